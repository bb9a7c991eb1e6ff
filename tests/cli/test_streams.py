"""Output that nobody reads, a card that loses a volume, a profile that is broken: what a person is told."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import practice_cards
import pytest

from workbench.host.folders import config_folder


def _run(*words: object, stdout: int) -> subprocess.CompletedProcess[bytes]:
    line = [sys.executable, "-m", "workbench", *map(str, words)]
    # As a person's shell runs it: Python keeps what is printed until the end.
    buffered = {name: value for name, value in os.environ.items() if name != "PYTHONUNBUFFERED"}
    return subprocess.run(line, stdout=stdout, stderr=subprocess.PIPE, check=False, timeout=120, env=buffered)


def _closed_pipe() -> int:
    read, write = os.pipe()
    os.close(read)
    return write


def test_a_reader_that_went_is_no_failure_of_the_change(practice_card):
    """`rename … --yes | true`: the change is made, so the exit code is 0, and nothing is complained of."""
    card = practice_card("larkspur")
    done = _run("rename", card, "Boats", "Sails", "--yes", stdout=_closed_pipe())
    assert (done.returncode, done.stderr) == (0, b"")
    assert (card / "data/shelf/Sails").is_dir()


def test_a_reader_that_went_ends_a_list_quietly(practice_card):
    """`menu CARD | true`: no traceback."""
    done = _run("menu", practice_card("larkspur"), stdout=_closed_pipe())
    assert (done.returncode, done.stderr) == (1, b"")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="only Linux has /dev/full")
def test_a_full_disk_behind_the_output(practice_card):
    """The system's reason in a sentence."""
    with Path("/dev/full").open("wb") as full:
        done = _run("menu", practice_card("larkspur"), stdout=full.fileno())
    assert done.returncode == 1
    assert done.stderr.startswith(b"cardwright: No space left on device")


def test_an_absent_volume_is_said_to_be_absent(practice_card, cardwright):
    """In every command, and in the plan of a rename whose references lie there too."""
    card = practice_card("larkspur")
    shutil.rmtree(card / "system")
    assert "volume system of this card is absent" in cardwright("menu", card).err
    plan = cardwright("rename", card, "Boats", "Sails", "--dry-run")
    assert "The volume system is absent: whatever names Boats on it" in plan.out
    refused = cardwright("splash", card, "blank", "--yes")
    assert refused.code == 1
    assert "volume system is not there" in refused.err


def test_one_splash_that_cannot_be_read_hides_no_other(practice_card, cardwright):
    """A link out of the volume is named; the next moment is shown."""
    card = practice_card("larkspur")
    splash = card / "system/greet/hello.bmp"
    splash.unlink()
    splash.symlink_to("/etc/hostname")
    answer = cardwright("splash", card, "show", "--json")
    assert [one["standing"] for one in answer.json["splashes"]] == ["unknown", "there"]
    assert "leads out of the volume" in answer.json["splashes"][0]["kind"]


def test_a_broken_profile_of_the_user_is_explained(tmp_path, cardwright):
    """Before the refusal that no profile describes the card."""
    broken = config_folder() / "profiles" / "mine.toml"
    broken.parent.mkdir(parents=True)
    broken.write_text('schema = 1\nname = "Mine"\n[panel]\nwidth = 4\nheight = "x"\n')
    (tmp_path / "card").mkdir()
    answer = cardwright("menu", tmp_path / "card")
    assert answer.code == 1
    assert "mine.toml" in answer.err.splitlines()[0]
    assert "no profile describes" in answer.err.splitlines()[-1]


def test_a_profile_on_the_card_is_never_taken_silently(practice_card, cardwright):
    """Without a terminal it is refused, for reading too, with the words that take it."""
    card = practice_card("larkspur")
    shutil.copy(practice_cards.profile_path("larkspur"), card / "data/cardwright-profile.toml")
    answer = cardwright("menu", card, "--json")
    assert answer.code == 2
    assert "--profile" in answer.json["error"]["message"]

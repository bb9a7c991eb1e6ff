"""`splash CARD probe`: the picture goes up in the kind that is there, two answers come back, all is undone.

The device is played by ImageMagick: it reads the file from the card and turns it as its panel is mounted.
"""

from __future__ import annotations

import gzip
import shutil
import subprocess
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image

from workbench.media.fitting import turn_clockwise
from workbench.media.probe_picture import LETTERS, draw_probe

SPLASH = {"larkspur": "system/greet/hello.bmp", "fernway": "main/hello/first.bmp.gz"}


def decode(file: Path) -> Image.Image:
    """The file's pixels by ImageMagick."""
    raw = file.read_bytes()
    raw = gzip.decompress(raw) if raw[:2] == b"\x1f\x8b" else raw
    tool = shutil.which("convert")
    if tool is None:
        pytest.skip("ImageMagick is not installed")
    ppm = subprocess.run([tool, "bmp:-", "-depth", "8", "ppm:-"], input=raw, capture_output=True, check=True)
    return Image.open(BytesIO(ppm.stdout)).convert("RGB")


def put_up(cardwright, card: Path) -> dict:
    answer = cardwright("splash", card, "probe", "--yes", "--json")
    assert answer.code == 0, answer.err
    return answer.json


@pytest.mark.parametrize("device", SPLASH)
def test_picture_is_stored_unturned_in_the_kind_that_is_there(device, practice_card, cardwright):
    """Another program sees exactly the test picture in the file, whatever turn the profile states."""
    card = practice_card(device)
    before = decode(card / SPLASH[device]).size
    put_up(cardwright, card)
    seen = decode(card / SPLASH[device])
    assert seen.size == before
    assert seen.tobytes() == draw_probe(*before).tobytes()


@pytest.mark.parametrize("mounted", [0, 90, 180, 270])
def test_letter_at_the_top_gives_the_turn(mounted, practice_card, cardwright):
    """On a panel that turns what is stored, the letter seen at the top gives the turn that undoes it."""
    card = practice_card("larkspur")
    put_up(cardwright, card)
    seen = turn_clockwise(decode(card / SPLASH["larkspur"]), mounted)
    stored = draw_probe(512, 384)
    letter = next(letter for turn, letter in enumerate(LETTERS) if turn_clockwise(stored, -90 * turn) == seen)
    answer = cardwright("splash", card, "probe", "--top", letter, "--bars", "rgb", "--yes", "--json")
    lines = {line["line"]: line for line in answer.json["profile_lines"]}
    turn = (360 - mounted) % 360
    assert f"rotate = {turn}" in lines
    assert lines[f"rotate = {turn}"]["new"] == (turn != 0)
    assert ("width = 384" in lines) == (mounted in (90, 270))


@pytest.mark.parametrize("device", ["larkspur", "fernway", "orrery"])
def test_old_splash_goes_back(device, practice_card, cardwright, tree_bytes):
    """After the answers the card is as it was, byte for byte, and the ledger knows both changes."""
    card = practice_card(device)
    before = tree_bytes(card)
    put_up(cardwright, card)
    assert tree_bytes(card) != before
    assert cardwright("splash", card, "probe", "--top", "f", "--bars", "rgb", "--yes").code == 0
    assert tree_bytes(card) == before
    titles = [one["title"] for one in cardwright("history", card, "--json").json["changes"]]
    assert titles[-2:] == [
        "Put up the test picture for start",
        "Take back 1: Put up the test picture for start",
    ]


def test_swapped_bars_give_masks_that_the_raw_splash_then_has(practice_card, cardwright, tmp_path):
    """Blue, green, red on a raw splash: the proposed line makes the next picture right on that device."""
    card = practice_card("orrery")
    put_up(cardwright, card)
    answer = cardwright("splash", card, "probe", "--top", "F", "--bars", "bgr", "--yes", "--json")
    kind = next(one["line"] for one in answer.json["profile_lines"] if one["line"].startswith("kind"))
    text = (Path(__file__).parents[2] / "fixtures/profiles/orrery.toml").read_text()
    old = 'kind = { container = "raw", bits = 32 }'
    profile = tmp_path / "orrery.toml"
    profile.write_text(text.replace(old, kind, 1))
    Image.new("RGB", (480, 800), (255, 0, 0)).save(tmp_path / "red.png")
    words = ("splash", card, "put", tmp_path / "red.png", "--profile", profile, "--yes")
    assert cardwright(*words).code == 0
    assert (card / "disk/curtain/rise.bgra").read_bytes()[:4] == b"\xff\0\0\xff"


def test_without_an_answer_and_a_terminal_it_refuses(practice_card, cardwright, tree_bytes):
    """Nobody can be asked: the exit code is 2, the options are named, and the picture stays."""
    card = practice_card("larkspur")
    assert cardwright("splash", card, "probe").code == 2
    put_up(cardwright, card)
    before = tree_bytes(card)
    answer = cardwright("splash", card, "probe", "--yes")
    assert answer.code == 2
    assert "--top LETTER" in answer.err and "undo" in answer.err
    assert tree_bytes(card) == before


def test_dry_run_writes_nothing(practice_card, cardwright, tree_bytes):
    """The plan is printed either way, and the card stays as it is."""
    card = practice_card("fernway")
    before = tree_bytes(card)
    answer = cardwright("splash", card, "probe", "--dry-run")
    assert answer.code == 0 and "Nothing was written." in answer.out
    assert tree_bytes(card) == before
    put_up(cardwright, card)
    held = tree_bytes(card)
    answer = cardwright("splash", card, "probe", "--top", "R", "--bars", "rgb", "--dry-run")
    assert answer.code == 0 and "rotate = 270" in answer.out
    assert tree_bytes(card) == held


@pytest.mark.parametrize(
    ("words", "said"),
    [(("--top", "Q"), "not 'Q'"), (("--top", "none", "--bars", "none"), "stays unknown")],
)
def test_answers_that_fit_nothing(words, said, practice_card, cardwright):
    """A letter that is not on the picture is refused; `none` gives no line and says so."""
    card = practice_card("larkspur")
    put_up(cardwright, card)
    answer = cardwright("splash", card, "probe", *words, "--bars", "none", "--yes")
    assert said in answer.out + answer.err
    assert answer.code == (2 if "Q" in words else 0)


def test_answers_without_a_picture_are_refused(practice_card, cardwright):
    """Nothing is up, so nothing can be answered: said before anything is changed."""
    card = practice_card("larkspur")
    answer = cardwright("splash", card, "probe", "--top", "F", "--bars", "rgb", "--yes")
    assert answer.code == 2 and "nothing to answer" in answer.err


def test_a_person_is_asked_twice(practice_card, cardwright, monkeypatch):
    """At a terminal: two answers and one yes, then the old splash is back."""
    card = practice_card("fernway")
    put_up(cardwright, card)
    answers = iter(("R", "rgb", "y"))
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda *_: next(answers))
    answer = cardwright("splash", card, "probe")
    assert answer.code == 0, answer.err
    assert next(answers, None) is None
    assert "rotate = 270 (the profile says so already)" in answer.out

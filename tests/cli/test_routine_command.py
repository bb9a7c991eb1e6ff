"""`routine run` on several cards at once, its sheet, its exit codes; `--record`; and under Ansible."""

from __future__ import annotations

import json
import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import practice_cards
import pytest

ROOT = Path(__file__).resolve().parents[2]
LOOK = """schema = 1
name = "look"
[[wishes]]
do = "rename"
entry = "Boats"
to = "Ferries"
[[wishes]]
do = "arrange"
last = ["Ferries"]
"""


@pytest.fixture
def look(tmp_path: Path) -> Path:
    file = tmp_path / "look.toml"
    file.write_text(LOOK)
    return file


@pytest.fixture
def three(tmp_path: Path) -> list[str]:
    """Two cards that are alike, and one of another device that has no such entry."""
    cards = [("larkspur", "one"), ("fernway", "other"), ("larkspur", "two")]
    return [str(practice_cards.lay_out(device, tmp_path / name)) for device, name in cards]


def _ask(cardwright, *words: str) -> tuple[int, dict]:
    answer = cardwright(*words)
    return answer.code, answer.json


def test_a_refused_card_never_stops_the_others(cardwright, look, three):
    """A row for each; exit 1; the others are done; again there is nothing to do."""
    code, found = _ask(cardwright, "routine", "run", str(look), *three, "--yes", "--json")
    rows = found["cards"]
    assert (code, [row["state"] for row in rows]) == (1, ["done", "refused", "done"])
    assert "Boats" in rows[1]["error"]["message"]
    assert (Path(three[2]) / "data/shelf").is_dir()
    code, found = _ask(cardwright, "routine", "run", str(look), three[0], three[2], "--yes", "--json")
    assert (code, {row["state"] for row in found["cards"]}) == (0, {"nothing"})


def test_a_dry_run_writes_nothing(cardwright, look, three, tree_bytes):
    """It says what would change."""
    before = [tree_bytes(Path(card)) for card in three]
    code, found = _ask(cardwright, "routine", "run", str(look), *three, "--dry-run", "--json")
    assert (code, [row["state"] for row in found["cards"]]) == (1, ["planned", "refused", "planned"])
    assert [tree_bytes(Path(card)) for card in three] == before


def test_an_unfinished_change_is_exit_three(cardwright, look, three, monkeypatch):
    """That card's row says so; the others are done."""
    from workbench.changes import apply as applying

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as broken:
        broken.setattr(applying, "_step", fail)
        assert cardwright("rename", three[0], "Boats", "Half", "--yes", "--json").code == 3
    code, found = _ask(cardwright, "routine", "run", str(look), three[0], three[2], "--yes", "--json")
    assert (code, [row["state"] for row in found["cards"]]) == (3, ["unfinished", "done"])


def test_recorded_and_run_elsewhere(cardwright, three, tmp_path, tree_bytes):
    """A card's history as a file that another card is brought to the same state by."""
    assert cardwright("rename", three[0], "Boats", "Ferries", "--yes", "--json").code == 0
    assert cardwright("arrange", three[0], "--first", "Zebra Crossing", "--yes", "--json").code == 0
    made = tmp_path / "made.toml"
    assert cardwright("routine", "run", str(made), three[0], "--record", "--json").code == 0
    assert cardwright("routine", "run", str(made), three[0], "--record", "--json").code == 2, "it is there"
    assert cardwright("routine", "run", str(made), three[2], "--yes", "--json").code == 0
    assert tree_bytes(Path(three[0])) == tree_bytes(Path(three[2]))


def test_a_note_for_the_owner(cardwright, three, tmp_path):
    """What was changed, how to take it back, and what to mind; a file is not replaced."""
    assert cardwright("rename", three[0], "Boats", "Fer`ries #1", "--yes", "--json").code == 0
    assert cardwright("rename", three[0], "Moss", "Fern & Moss", "--yes", "--json").code == 0
    page = tmp_path / "note.md"
    subprocess.run(
        [sys.executable, "-m", "workbench", "history", three[0], "--note", "-o", str(page)], check=True
    )
    text = page.read_text()
    assert "Rename Moss to Fern & Moss" in text and "cardwright undo" in text and "epilepsy" in text
    ended = subprocess.run(
        [sys.executable, "-m", "workbench", "history", three[0], "--note", "-o", str(page)],
        capture_output=True,
    )
    assert ended.returncode == 2 and page.read_text() == text


def test_a_note_promises_nothing_that_was_not_looked_at(cardwright, three):
    """Everything was taken back, with a hand's edit in one place: the card is not what it was before."""
    assert cardwright("rename", three[0], "Boats", "Ferries", "--yes").code == 0
    assert cardwright("undo", three[0], "--yes").code == 0
    (Path(three[0]) / "data/house/lately.txt").write_text("by hand")
    told = cardwright("history", three[0], "--note").out
    assert "No change made with Cardwright stands." in told
    assert "Nothing" not in told


def _example() -> str:
    """The playbook that the README shows."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    return readme.partition("```yaml\n")[2].partition("```")[0]


def test_the_readmes_playbook_runs_under_ansible(look, three, tmp_path):
    """The first run changes the card, the second changes nothing (ansible-core, local connection)."""
    if shutil.which("ansible-playbook", path=str(Path(sys.executable).parent)) is None:
        if os.environ.get("CARDWRIGHT_REQUIRE_REAL"):
            pytest.fail("needs ansible-core")
        pytest.skip("needs ansible-core")
    book = tmp_path / "cards.yml"
    book.write_text(_example())
    environment = {
        **os.environ,
        "PATH": f"{Path(sys.executable).parent}:{os.environ['PATH']}",
        "ANSIBLE_LOCAL_TEMP": str(tmp_path / "ansible"),
        "ANSIBLE_HOME": str(tmp_path / "ansible-home"),
        "ANSIBLE_NOCOLOR": "1",
        "PYTHONPATH": str(ROOT),
        "LC_ALL": "C.UTF-8",
    }
    words = [
        str(Path(sys.executable).with_name("ansible-playbook")),
        "-i",
        "localhost,",
        "-c",
        "local",
        str(book),
    ]
    told = json.dumps(
        {
            "card": three[0],
            "routine": str(look),
            "cardwright": f"{sys.executable} -m workbench",
            "ansible_python_interpreter": sys.executable,
        }
    )
    changed = []
    for _ in range(2):
        ended = subprocess.run([*words, "-e", told], capture_output=True, env=environment, cwd=tmp_path)
        assert ended.returncode == 0, ended.stdout.decode() + ended.stderr.decode()
        found = re.search(rb"changed=(\d+)", ended.stdout)
        assert found is not None, ended.stdout
        changed.append(int(found[1]))
    assert changed == [1, 0]

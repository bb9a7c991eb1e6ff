"""`cardwright check`: what it says, its exit codes and shapes, and mending with one answer."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import practice_cards
import pytest

from workbench.jobs.check.registry import RULES

Run = Callable[..., Any]
LATELY = "data/house/lately.txt"
KEYS = {"rule", "level", "volume", "path", "line", "message", "mendable"}


@pytest.fixture
def broken(practice_card: Callable[[str], Path]) -> Path:
    """Larkspur with a dead line in a list, and litter."""
    folder = practice_card("larkspur")
    with (folder / LATELY).open("a", encoding="utf-8") as file:
        file.write("\nGone Away\n")
    (folder / "data/.DS_Store").write_bytes(b"x")
    return folder


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_a_clean_card_is_0(device: str, practice_card: Callable[[str], Path], cardwright: Run) -> None:
    """Notes alone are no reason to fail."""
    answer = cardwright("check", practice_card(device))
    assert answer.code == 0, answer.out


@pytest.mark.parametrize(
    ("level", "change", "code"),
    [("error", "litter", 0), ("note", "litter", 4), ("warning", "litter", 0), ("error", "dead", 4),
     ("warning", "dead", 4), ("warning", "small", 4), ("error", "small", 0)],
)  # fmt: skip
def test_level_decides_the_exit_code(
    level: str, change: str, code: int, practice_card: Callable[[str], Path], cardwright: Run
) -> None:
    """4 where something is as grave as that, or graver."""
    folder = practice_card("larkspur")
    if change == "dead":
        (folder / LATELY).write_text("Boats\nMoss\nGone Away\n")
    elif change == "litter":
        (folder / "data/.DS_Store").write_bytes(b"x")
    else:
        (folder / "data/shelf/aux").mkdir()
    assert cardwright("check", folder, "--level", level).code == code


def test_the_shape_for_scripts(broken: Path, cardwright: Run) -> None:
    """Every finding has the keys that scripts go by; the gravest come first."""
    found = cardwright("check", broken, "--json").json["findings"]
    assert all(one.keys() >= KEYS for one in found)
    assert {one["rule"] for one in found} <= set(RULES)
    dead = next(one for one in found if one["rule"] == "dangling-reference")
    lines = (broken / LATELY).read_text("utf-8").split("\n")
    assert (dead["volume"], dead["path"], dead["mendable"]) == ("data", "house/lately.txt", True)
    assert lines[dead["line"] - 1] == "Gone Away"
    order = [("error", "warning", "note").index(one["level"]) for one in found]
    assert order == sorted(order)


def test_what_people_read(broken: Path, cardwright: Run) -> None:
    """The rule in words, the place with its line, the mend, and how to go on."""
    out = cardwright("check", broken).out
    assert "names an entry that is not there" in out
    assert "data:house/lately.txt, line " in out
    assert "[mend: take the line out]" in out
    assert "--mend --dry-run" in out
    assert "host-litter" not in out and "--level note" in out


def test_a_dry_run_mends_nothing(broken: Path, cardwright: Run, tree_bytes: Callable[[Path], Any]) -> None:
    """The plan is shown; the card stays as it is."""
    before = tree_bytes(broken)
    answer = cardwright("check", broken, "--mend", "--dry-run")
    assert answer.code == 0 and "Mend " in answer.out
    assert tree_bytes(broken) == before


def test_mending_is_one_change_that_undo_takes_back(
    broken: Path, cardwright: Run, tree_bytes: Callable[[Path], Any]
) -> None:
    """Everything in one go; the JSON says what was mended and what was left."""
    before = tree_bytes(broken)
    answer = cardwright("check", broken, "--mend", "--yes", "--json").json
    assert answer["change"] == 1
    assert {one["rule"] for one in answer["mended"]} >= {"dangling-reference", "host-litter"}
    assert cardwright("check", broken, "--level", "error").code == 0
    assert cardwright("undo", broken, "--yes").code == 0
    assert tree_bytes(broken) == before


def test_one_rule_is_mended(broken: Path, cardwright: Run) -> None:
    """Named behind the option, before or after the card."""
    assert cardwright("check", broken, "--yes", "--mend", "host-litter").code == 0
    assert not (broken / "data/.DS_Store").exists()
    assert "Gone Away" in (broken / LATELY).read_text("utf-8")


def test_several_rules_are_mended(broken: Path, cardwright: Run) -> None:
    """Behind one option, or behind several."""
    for words in (("host-litter", "dangling-reference"), ("host-litter", "--mend", "dangling-reference")):
        answer = cardwright("check", broken, "--mend", *words, "--dry-run", "--json").json
        assert {one["rule"] for one in answer["mended"]} == {"host-litter", "dangling-reference"}


def test_an_unknown_rule_is_a_mistake(broken: Path, cardwright: Run) -> None:
    """With the closest that there is."""
    answer = cardwright("check", broken, "--mend", "host-liter", "--yes")
    assert answer.code == 2 and "host-litter" in answer.err


def test_mending_asks_where_nobody_can_answer(broken: Path, cardwright: Run) -> None:
    """Without a terminal and without --yes nothing is written."""
    assert cardwright("check", broken, "--mend").code == 2


def test_the_rules_are_listed(broken: Path, cardwright: Run) -> None:
    """By their stable names, with level and words."""
    listed = cardwright("check", broken, "--rules", "--json").json["rules"]
    assert [one["rule"] for one in listed] == list(RULES)


def test_space_is_told_by_what_takes_it(broken: Path, cardwright: Run) -> None:
    """Every file counts once."""
    shares = cardwright("check", broken, "--space", "--json").json["space"]
    assert {one["what"] for one in shares} >= {"menu", "animation", "splash", "rest"}
    files = [file for file in broken.rglob("*") if file.is_file() and not file.is_symlink()]
    counted = sum(one["bytes"] for one in shares if one["what"] != "kept")
    unit = max(4096, 1)
    assert sum(file.stat().st_size for file in files) <= counted
    assert counted <= sum(-(-file.stat().st_size // unit) * unit for file in files)

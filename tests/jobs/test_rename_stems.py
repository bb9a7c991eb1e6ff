"""Entries that are files: their stems, double suffixes, and namesakes in other folders."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.cli.main import main

PROFILE = """
schema = 1
name = "Rooms"
[panel]
width = 32
height = 16
[volumes.m]
identify = ["rooms/"]
[[menus]]
id = "things"
root = "m:rooms/{parent}"
entries = "files"
match = ["*.thing", "*.tar.gz"]
companions = ["m:keep/{parent}/{stem}.*"]
"""


@pytest.fixture
def card(tmp_path: Path) -> Path:
    for room in ("Red", "Blue"):
        for stem, suffix in (("a", ".thing"), ("b", ".tar.gz")):
            for place in (f"rooms/{room}/{stem}{suffix}", f"keep/{room}/{stem}.save"):
                (tmp_path / "card" / place).parent.mkdir(parents=True, exist_ok=True)
                (tmp_path / "card" / place).write_bytes(b"x")
    (tmp_path / "rooms.toml").write_text(PROFILE)
    return tmp_path / "card"


def _rename(card: Path, old: str, new: str) -> int:
    return main(["rename", str(card), "--profile", str(card.parent / "rooms.toml"), "--yes", old, new])


@pytest.mark.parametrize(
    ("old", "new", "saved"),
    [
        ("a.thing", "A.thing", "A.save"),
        ("b.tar.gz", "c.d.tar.gz", "c.d.save"),
        ("a.thing", "é [x].THING", "é [x].save"),
    ],
)
def test_companions_go_by_the_stem(old, new, saved, card, capsys):
    """The suffix is what the profile says, dots and all; a namesake is not even mentioned."""
    assert _rename(card, f"things/Red:{old}", new) == 0
    assert (card / "rooms/Red" / new).is_file()
    assert saved in [one.name for one in (card / "keep/Red").iterdir()]
    assert sorted(one.name for one in (card / "keep/Blue").iterdir()) == ["a.save", "b.save"]
    assert "Blue" not in capsys.readouterr().out


@pytest.mark.parametrize(
    ("new", "hint"), [("b.gz", "b.gz.tar.gz"), ("b", "b.tar.gz"), ("b.thing", "b.thing.tar.gz")]
)
def test_another_suffix_is_refused_with_a_name_that_would_do(new, hint, card, capsys):
    """The device would not list it any more."""
    assert _rename(card, "things/Red:b.tar.gz", new) == 1
    assert hint in capsys.readouterr().err
    assert (card / "rooms/Red/b.tar.gz").is_file()

"""The strip: what is told, what waits, and what moves take, in words that fit."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from workbench.card.paths import VolumePath
from workbench.changes.plan import Listing, Move, Plan
from workbench.tui.base_app import Notice
from workbench.tui.strip_lines import MOST_NOTICE_LINES, notice_lines, rename_words, take_words
from workbench.tui.waiting import Waiting

RENAMES = (("Boats", "05 Boats"), ("Kites", "06 Kites"), ("\x1b[31mRed", "07 \x1b[31mRed"))


@pytest.mark.parametrize("width", [45, 50, 60, 80, 200])
def test_as_many_renames_are_named_as_there_is_room_for(width: int) -> None:
    """The rest is counted; nothing that is shown is a command to the terminal."""
    said = rename_words(RENAMES, width)
    assert said.startswith("3 renames: Boats becomes 05 Boats") and "\x1b" not in said
    assert said.endswith(" more") or said.count("becomes") == 3
    assert cell_len(said) <= width


@pytest.mark.parametrize("width", [40, 50, 60])
def test_long_names_share_the_room_that_there_is(width: int) -> None:
    """Both are cut, and how many more there are is still said."""
    said = rename_words((("a" * 200, "05 " + "a" * 200), RENAMES[0]), width)
    assert said.count("…") == 2 and said.endswith(" and 1 more") and cell_len(said) <= width


def test_no_rename_is_said_too() -> None:
    """Moves that come to nothing, and a folder's own order that is set anew."""
    assert rename_words((), 80) == "no rename"
    at = VolumePath("disk", "sky")
    listed = Plan("x", (Move(at.child("a"), at.child("b")),), listings=(Listing(at, ("a", "b", "c")),))
    assert take_words(Waiting((listed,)), 80) == (
        "no rename; 3 names are moved out and back in, in this order"
    )


def test_a_notice_is_never_longer_than_its_limit() -> None:
    """The menu stays in sight, however long an error is."""
    assert notice_lines(None, 80) == []
    assert len(notice_lines(Notice("short", "information"), 80)) == 1
    lines = notice_lines(Notice("word " * 500, "error"), 80)
    assert len(lines) == MOST_NOTICE_LINES and lines[-1].text.endswith("…")
    assert all(cell_len(line.text) <= 80 for line in lines)

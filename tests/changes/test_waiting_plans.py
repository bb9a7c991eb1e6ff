"""A waiting plan survives leaving, per card, and is never guessed at."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.changes.plan import Mention, Move, Plan, Write, digest
from workbench.changes.waiting_plans import _file, forget_waiting, load_waiting, save_waiting
from workbench.errors import LedgerError

AT = VolumePath("data", "a")


def make_card(root: Path) -> Card:
    return Card("CARD", {"data": Volume("data", root)}, None, "folder")


def test_wishes_come_back_as_they_were(tmp_path: Path) -> None:
    """In order, with their bytes and what they leave alone."""
    card = make_card(tmp_path)
    one = Plan("one", (Move(AT, VolumePath("data", "b\udcff")),), unruled=(Mention(AT, 3, "text"),))
    two = Plan("two", (Write(AT, b"\x00\xff", digest(b"old")),), notes=("a note",))
    save_waiting(card, (one, two))
    assert load_waiting(card) == (one, two)


def test_each_card_has_its_own_and_none_is_no_plan(tmp_path: Path) -> None:
    """The same label at another place is another card; an empty plan forgets the file."""
    card, other = make_card(tmp_path / "one"), make_card(tmp_path / "two")
    save_waiting(card, (Plan("one", ()),))
    assert load_waiting(other) == ()
    save_waiting(card, ())
    assert load_waiting(card) == () and not _file(card).exists()
    forget_waiting(card)


@pytest.mark.parametrize("raw", [b"", b"{}", b"[]", b'{"wishes": ["!"]}', b'{"wishes": ["e30="]}'])
def test_a_damaged_file_is_named_and_left(tmp_path: Path, raw: bytes) -> None:
    """Nothing is made up from it."""
    card = make_card(tmp_path)
    save_waiting(card, (Plan("one", ()),))
    _file(card).write_bytes(raw)
    with pytest.raises(LedgerError):
        load_waiting(card)
    assert _file(card).read_bytes() == raw

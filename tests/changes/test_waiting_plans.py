"""A waiting plan survives leaving, per card, and is never guessed at."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.changes.plan import Mention, Move, Plan, Prepared, Write, digest
from workbench.changes.waiting_plans import _file, forget_waiting, load_waiting, save_waiting
from workbench.errors import LedgerError
from workbench.host.renders import keep_render
from workbench.jobs.renders import INLINE_LIMIT, drop_renders, hold

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


def test_a_render_that_a_plan_waits_with_is_not_dropped_by_another(tmp_path: Path) -> None:
    """`splash put` of the same picture on the command line, or another card's plan, leaves it there."""
    content = b"x" * (INLINE_LIMIT + 1)
    wish = Plan("Put", (Write(AT, hold(content), None),))
    cards = [make_card(tmp_path / name) for name in ("one", "two")]
    for card in cards:
        save_waiting(card, (wish,))
    step = wish.steps[0]
    assert isinstance(step, Write) and isinstance(step.content, Prepared)
    render = Path(step.content.file)
    os.utime(render, (1, 1))
    keep_render(b"another, which sweeps what is old")
    for card in cards:
        drop_renders(Plan("Put", (Write(AT, hold(content), None),)))
        assert render.read_bytes() == content
        forget_waiting(card)
    drop_renders(wish)
    assert not render.exists()

"""What must hold for any plan whose kept copies lie on this computer, or were let go."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from unittest.mock import patch

from changes_card import snapshot
from hypothesis import given
from hypothesis import strategies as st
from test_properties import FEW, Here, as_planned, grow_plan

from workbench.card.disk_tree import DiskTree
from workbench.changes import preflight
from workbench.changes.apply import apply
from workbench.changes.ledger import read_history
from workbench.changes.let_go import choose_all_but, let_go, plan_letting_go
from workbench.changes.planned_tree import PlannedTree
from workbench.changes.space import Need, Room, Sizes
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError, ConflictError, LedgerError


def count_need(role: str, room: Room, sizes: Sizes) -> Need:
    """A card that is too full for any copy, and for nothing else."""
    return Need(role, 0, 0 if sizes.on_host else room.free + 1, 0, 0)


@FEW
@given(st.data())
def test_copies_on_this_computer_bring_everything_back(data: st.DataObject) -> None:
    """For random plans, files packed or copied whole: apply, undo, and undo of the undo."""
    host = Path(tempfile.mkdtemp(prefix="host-"))
    limit = data.draw(st.sampled_from((0, 4 * 2**20)))
    with (
        Here() as (root, card),
        patch.object(preflight, "count_need", count_need),
        patch.object(preflight, "PACKED_BYTES", limit),
    ):
        start = snapshot(root)
        plan = grow_plan(data, DiskTree(card), 7)
        try:
            apply(card, plan, keep_on=host)
        except CardwrightError as error:
            assert error.exit_code == 1
            assert snapshot(root) == start and not list(host.iterdir())
            return
        end = snapshot(root)
        if end != start:
            apply(card, plan_undo(card, 1), keep_on=host)
            assert snapshot(root) == start
            apply(card, plan_undo(card, 2), keep_on=host)
            assert snapshot(root) == end
            assert all(change.is_keep_here for change in read_history(card) if change.kept_on)
    shutil.rmtree(host)


@FEW
@given(st.data())
def test_after_letting_go_undo_is_exact_or_says_what_it_cannot(data: st.DataObject) -> None:
    """Whole, it gives the start; else the conflict names the let go copies, and a part is what it shows."""
    with Here() as (root, card):
        start = snapshot(root)
        plan = grow_plan(data, DiskTree(card), 7)
        try:
            apply(card, plan)
            let_go(plan_letting_go(card, choose_all_but(0)))
        except CardwrightError as error:
            assert error.exit_code == 1
            return
        end = snapshot(root)
        try:
            apply(card, plan_undo(card, 1))
        except ConflictError as error:
            assert "let go" in error.message
        except (CardwrightError, LedgerError):
            assert end == start
            return
        else:
            assert snapshot(root) == start
            return
        assert snapshot(root) == end
        try:
            part = plan_undo(card, 1, partial=True)
        except CardwrightError:
            return
        shown = as_planned(PlannedTree(DiskTree(card), part))
        apply(card, part)
        assert snapshot(root) == shown

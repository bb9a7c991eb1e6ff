"""What must hold for any plan: the planned tree is the outcome, undo is identity, merging changes nothing."""

from __future__ import annotations

import os
import shutil
import tempfile
from collections.abc import Callable
from pathlib import Path

from changes_card import make_card, place, snapshot
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.plan import MakeFolder, Move, Plan, Remove, Step, Write, digest
from workbench.changes.plan_file import read_plan_file, write_plan_file
from workbench.changes.planned_tree import PlannedTree
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError

FILES: dict[str, bytes | None] = {
    "a": b"A",
    "b": b"A",
    "d/x": b"X",
    "d/e/y": b"Y",
    "f/x": b"X",
    "f/e/y": b"Y",
    "empty": None,
    "hollow": None,
}
NAMES = ("a", "b", "d", "e", "f", "x", "y", "empty", "n", "A")

FEW = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck))

MEMORY = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
"""Where flushing costs nothing: what is tested here is the outcome, not what survives a power cut."""

Draw = Callable[[st.SearchStrategy[object]], object]


def grow_plan(data: st.DataObject, tree: Tree, length: int) -> Plan:
    """Up to `length` random steps, each of which can be carried out on what the ones before leave."""
    plan = Plan("Random", ())
    for _ in range(length):
        longer = Plan("Random", (*plan.steps, _draw_step(data, PlannedTree(tree, plan))))
        try:
            PlannedTree(tree, longer)
        except CardwrightError:
            continue
        plan = longer
    return plan


def _draw_step(data: st.DataObject, tree: PlannedTree) -> Step:
    things = [item.at for item in tree.walk(place(""))]
    folders = [place(""), *(at for at in things if getattr(tree.stat(at), "kind", "") == "folder")]
    new = data.draw(st.sampled_from(folders)).child(data.draw(st.sampled_from(NAMES)))
    old = data.draw(st.sampled_from(things)) if things else new
    kind = data.draw(st.sampled_from(("write", "write", "move", "move", "move", "remove", "make")))
    if kind == "write":
        at = data.draw(st.sampled_from((old, new)))
        return Write(at, data.draw(st.sampled_from((b"A", b"X", b"N", b"long" * 99))), _before(tree, at))
    if kind == "move":
        return Move(old, new)
    return Remove(old) if kind == "remove" else MakeFolder(new)


def _before(tree: Tree, at: VolumePath) -> str | None:
    item = tree.stat(at)
    return digest(tree.read(at)) if item is not None and item.kind == "file" else None


def as_planned(tree: Tree) -> dict[str, bytes | None]:
    """A tree in the form of `snapshot`."""
    return {
        item.at.path: tree.read(item.at) if item.kind == "file" else None for item in tree.walk(place(""))
    }


class Here:
    """A fresh card in a folder of its own for each example."""

    def __enter__(self) -> tuple[Path, Card]:
        self.root = Path(tempfile.mkdtemp(prefix="plans-", dir=MEMORY))
        return self.root, make_card(self.root, FILES)

    def __exit__(self, *_: object) -> None:
        shutil.rmtree(self.root)


@FEW
@given(st.data())
def test_the_card_becomes_what_the_planned_tree_shows_and_comes_back(data: st.DataObject) -> None:
    """For random plans: apply gives the planned tree, undo the start, undo of the undo the outcome."""
    with Here() as (root, card):
        start = snapshot(root)
        plan = grow_plan(data, DiskTree(card), 7)
        if not plan.steps:
            return
        planned = PlannedTree(DiskTree(card), plan)
        shown, names = as_planned(planned), sorted(planned.walk_names("data"))
        try:
            apply(card, plan)
        except CardwrightError as error:
            assert error.exit_code == 1 and "one name to the device" in error.message
            assert snapshot(root) == start
            return
        end = snapshot(root)
        assert end == shown
        assert names == sorted((path, content is None) for path, content in end.items())
        if end == start:
            return
        apply(card, plan_undo(card, 1))
        assert snapshot(root) == start
        apply(card, plan_undo(card, 2))
        assert snapshot(root) == end


@FEW
@given(st.data())
def test_two_plans_merged_are_the_two_one_after_the_other(data: st.DataObject) -> None:
    """One change or two: the card comes out the same, and `after_too` takes back both."""
    with Here() as (root, card), Here() as (other, other_card):
        start = snapshot(root)
        first = grow_plan(data, DiskTree(card), 4)
        second = grow_plan(data, PlannedTree(DiskTree(card), first), 4)
        plans = [plan for plan in (first, second) if plan.steps]
        try:
            for plan in plans:
                apply(card, plan)
            apply(other_card, first.then(second))
        except CardwrightError as error:
            assert error.exit_code == 1
            return
        assert snapshot(root) == snapshot(other)
        if len(plans) == 2 and snapshot(root) != start:
            apply(card, plan_undo(card, 1, after_too=True))
            assert snapshot(root) == start


@FEW
@given(st.data())
def test_a_plan_file_gives_the_plan_back(data: st.DataObject) -> None:
    """Writing a waiting plan and reading it is identity."""
    with Here() as (_, card):
        plan = grow_plan(data, DiskTree(card), 5)
    assert read_plan_file(write_plan_file(plan)) == plan

"""Where the things of one change are by now, and the steps that take it back as they are worked out.

Places are followed through later changes and through the steps of the plan itself.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence, Set

from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.changes.ledger import Trail
from workbench.changes.overlay import Node, Overlay
from workbench.changes.plan import Conflict, Plan
from workbench.changes.planned_tree import BelowPlan
from workbench.changes.record import Record
from workbench.changes.steps import Step
from workbench.changes.touched import ROOT, Location, Touched
from workbench.shown import shown

_KEPT_DEPTH = 4
"""Slashes in `.cardwright/changes/ID/kept/N`."""


_OUTSIDE = "an edit outside Cardwright"


class Since:
    """`record` on `tree` as it will be after `waiting`; `later` are the changes after it that `waiting` does
    not take back.

    `gone`: for a volume whose kept copies cannot be had, the reason as the end of a sentence. `untrusted`:
    ids of removed things of which the card holds no copy, or a half at most.
    """

    def __init__(
        self,
        record: Record,
        later: Sequence[Record],
        tree: Tree,
        waiting: Plan,
        *,
        gone: Mapping[str, str],
        untrusted: Set[int],
    ) -> None:
        self.record = record
        self.gone = gone
        self._untrusted = untrusted
        self._trails = [Trail(one) for one in later]
        self.tree = tree
        self.steps: list[Step] = []
        self.conflicts: list[Conflict] = []
        self.notes: list[str] = []
        self.overlay = Overlay(BelowPlan(tree))
        for step in waiting.steps:
            self.overlay.carry_out(step)
        self._found = {thing.id: self._find(thing) for thing in record.things}
        self._folders = {thing.id: self._find_home(thing) for thing in record.things}
        self.left_in = {thing.id: self._find_left(thing) for thing in record.things}
        """The folder, by now, that the change left each thing in, and under which name."""

    def node(self, number: int) -> Node | None:
        """A thing of the change, or what has taken its place in the plan so far."""
        node = self._found[number]
        while node is not None and node.replaced_by is not None:
            node = node.replaced_by
        return node

    def _find(self, thing: Touched) -> Node | None:
        place = self._by_now(self.record.place(thing.volume, thing.goal(forward=True), at_end=True))
        if thing.id in self._untrusted and place.path.startswith(f"{self.record.folder}/kept/"):
            return None
        return self.overlay.find(place)

    def is_on_host(self, thing: Touched) -> bool:
        """Whether it was removed, has not come back, and the host can give it."""
        is_away = thing.id in self._untrusted and self._found[thing.id] is None
        return is_away and thing.volume not in self.gone

    def adopt(self, thing: Touched, at: VolumePath) -> None:
        """What was made at a place in the plan is that thing from now on."""
        self._found[thing.id] = self.overlay.find(at)

    def _by_now(self, place: VolumePath) -> VolumePath:
        """Where what the change left at a place stands after the later changes."""
        for trail in self._trails:
            place = trail.follow(place)
        return place

    def _find_home(self, thing: Touched) -> Node | None:
        """The folder, by now, that it stood in before, as far as the change did not move that itself."""
        if thing.initial is None or thing.initial.base != ROOT:
            return None
        place = VolumePath(thing.volume, thing.initial.path).parent
        return self.overlay.find(self._by_now(place))

    def _find_left(self, thing: Touched) -> tuple[Node | None, str]:
        """The folder, by now, that the change left it in, and under which name."""
        left = self.record.place(thing.volume, thing.goal(forward=True), at_end=True)
        folder = left.parent
        return self.overlay.find(self._by_now(folder)), left.name

    def home(self, thing: Touched) -> tuple[Node, str] | None:
        """The folder and the name that it stood under before."""
        assert thing.initial is not None
        inner, _, name = thing.initial.path.rpartition("/")
        if thing.initial.base == ROOT:
            folder = self._folders[thing.id]
        else:
            folder = self.node(thing.initial.base)
            for part in inner.split("/") if inner else ():
                folder = None if folder is None else self.overlay.child(folder, part)
        is_there = folder is not None and self.overlay.place_of(folder) is not None
        return (folder, name) if folder is not None and is_there and folder.kind == "folder" else None

    def place(self, node: Node | None) -> VolumePath | None:
        """Where it stands in the plan so far; None where it stands nowhere."""
        return None if node is None else self.overlay.place_of(node)

    def do(self, step: Step) -> None:
        """One step more."""
        self.overlay.carry_out(step)
        self.steps.append(step)

    def subject(self, thing: Touched) -> Node | None:
        """What goes back to where `thing` was: itself, or the file that took its place."""
        return self.node(thing.replaced_by or thing.id)

    def is_in_own_keep(self, thing: Touched) -> bool:
        """Whether the change itself took it away."""
        return self.record.place(thing.volume, thing.goal(forward=True), at_end=True).is_in_ledger

    def names(self, folder: Node) -> list[str]:
        """What a folder holds in the plan so far."""
        names = [child.name for child in folder.children.values() if child is not None]
        if folder.origin is None:
            return names
        known = folder.children
        there = (item.name for item in self.tree.list(folder.origin))
        return names + [name for name in there if self.overlay.key(folder.volume, name) not in known]

    def folder_of(self, volume: str, location: Location) -> Node | None:
        """A folder of the change, by now; an empty path means the location's base."""
        if location.base != ROOT:
            folder = self.node(location.base)
            for part in location.path.split("/") if location.path else ():
                folder = None if folder is None else self.overlay.child(folder, part)
            return folder
        place = VolumePath(volume, location.path)
        return self.overlay.find(self._by_now(place))

    def refuse(self, at: VolumePath, thing: Touched, why: str, line: int | None = None) -> None:
        """A conflict, with the change that caused it."""
        self.conflicts.append(Conflict(at, line, f"{why} ({self._name_cause(thing)})"))

    def refuse_gone(self, at: VolumePath, what: str) -> None:
        """A conflict with what became of the kept copies."""
        self.conflicts.append(Conflict(at, None, f"{what}: {self.gone[at.volume]}"))

    def _name_cause(self, thing: Touched) -> str:
        """The later change that touched it, or none of ours."""
        place = self.record.place(thing.volume, thing.goal(forward=True), at_end=True)
        for trail in self._trails:
            record = trail.record
            for other in record.of_volume(thing.volume):
                if other.initial is None:
                    continue
                start = record.place(other.volume, other.initial, at_end=False)
                if start == place or place.is_below(start):
                    return f"change {record.number}, {shown(record.title)}"
            place = trail.follow(place)
        return _OUTSIDE

    def is_edited_outside(self, thing: Touched) -> bool:
        """Whether no later change had to do with what this one put there."""
        return self._name_cause(thing) == _OUTSIDE


def is_kept_itself(place: VolumePath) -> bool:
    """Whether it lies in a change's keep as one of the things taken away."""
    return place.is_in_ledger and place.path.count("/") == _KEPT_DEPTH


def is_inside_kept(place: VolumePath) -> bool:
    """Whether it lies in a folder that was taken away."""
    return place.is_in_ledger and place.path.count("/") > _KEPT_DEPTH

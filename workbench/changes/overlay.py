"""A plan carried out in thought: which thing stands where after each step, on a Tree that stays as it is.

Things, not paths: a file in a folder that is moved does not move itself. `planned_tree` shows the outcome as
a Tree; `touched` lists what a change has to move, write and keep. A step whose precondition fails is refused.
"""

from __future__ import annotations

import re
from typing import Protocol

from workbench.card.paths import ASIDE, LEDGER_FOLDER, VolumePath
from workbench.card.profile import NamesRule
from workbench.card.tree import Item, Kind
from workbench.changes.ground import fold_host
from workbench.changes.plan import digest
from workbench.changes.steps import MakeFolder, Move, Prepared, Remove, Step, Write
from workbench.errors import PreflightError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Edit
from workbench.shown import shown
from workbench.values import dataclass, field

_KEPT = late_pattern(rf"{re.escape(LEDGER_FOLDER)}/changes/[^/]+/kept/.+")
"""Where an undo may take things back from."""


class Below(Protocol):
    """What an overlay needs of the tree under it."""

    def names_rule(self, volume: str) -> NamesRule: ...

    def stat(self, at: VolumePath) -> Item | None: ...

    def spell(self, at: VolumePath) -> str:
        """How the name of what is there is really spelled, where the host ignores case."""
        ...


@dataclass(eq=False, slots=True)
class Node:
    """One thing: on the card, or to be."""

    kind: Kind
    volume: str
    name: str
    parent: Node | None
    """None: it stands nowhere any more (replaced or removed), or it is a volume's root."""
    origin: VolumePath | None = None
    """Where the tree below has it; None for what the plan makes."""
    item: Item | None = None
    content: bytes | Prepared | None = None
    mode: int | None = None
    edits: list[tuple[Edit, ...]] = field(default_factory=list)
    """One tuple for each write, in order; empty tuples where a write was no edit."""
    replaces: Node | None = None
    replaced_by: Node | None = None
    is_removed: bool = False
    is_changed_below: bool = False
    """A folder of which some child, at any depth, is not as in the tree below."""
    start: tuple[Node, str] | None = None
    """Where it stood when first touched; None while untouched, and for new things."""
    visited: list[tuple[Node, str]] = field(default_factory=list)
    is_touched: bool = False
    children: dict[str, Node | None] = field(default_factory=dict)
    """By host key; None where the tree below has a child that is gone. Not all children: those looked up."""


class Overlay:
    """Carries out steps on top of a tree."""

    def __init__(self, tree: Below) -> None:
        self.tree = tree
        self.touched: list[Node] = []
        """In the order of their first touch."""
        self.expected: list[tuple[VolumePath, VolumePath, str]] = []
        """(place, origin, SHA-256) that writes were planned on, still to be compared with the card."""
        self._roots: dict[str, Node] = {}
        self._aside: dict[str, Node] = {}

    def root(self, volume: str) -> Node:
        """A volume's root folder."""
        if volume not in self._roots:
            self._roots[volume] = Node("folder", volume, "", None, VolumePath(volume, ""))
        return self._roots[volume]

    def is_aside(self, node: Node) -> bool:
        """Whether it is the folder that stands for `ASIDE`."""
        return self._aside.get(node.volume) is node

    def find(self, at: VolumePath) -> Node | None:
        """What stands at that place now."""
        if at.path == ASIDE or at.path.startswith(ASIDE + "/"):
            if at.volume not in self._aside:
                self._aside[at.volume] = Node("folder", at.volume, ASIDE, None)
            node: Node | None = self._aside[at.volume]
            rest = at.path[len(ASIDE) + 1 :]
        else:
            node, rest = self.root(at.volume), at.path
        for name in rest.split("/") if rest else ():
            node = self.child(node, name) if node is not None and node.kind == "folder" else None
        return node

    def child(self, folder: Node, name: str) -> Node | None:
        """What a folder holds under that name, by the host's rule for names."""
        key = self.key(folder.volume, name)
        if key not in folder.children and folder.origin is not None:
            origin = folder.origin.child(name)
            item = self.tree.stat(origin)
            if item is None:
                return None
            spelled = self.tree.spell(origin)
            origin = origin.with_name(spelled)
            folder.children[key] = Node(item.kind, folder.volume, spelled, folder, origin, item)
        return folder.children.get(key)

    def place_of(self, node: Node) -> VolumePath | None:
        """Where a thing stands now, or None where it stands nowhere."""
        names: list[str] = []
        while node.parent is not None:
            names.append(node.name)
            node = node.parent
        if node is self._roots.get(node.volume):
            return VolumePath(node.volume, "/".join(reversed(names)))
        if self.is_aside(node):
            return VolumePath(node.volume, "/".join((ASIDE, *reversed(names))))
        return None

    def carry_out(self, step: Step) -> None:
        """One step more.

        Raises:
            PreflightError: what it needs is not so, on the card as the steps before leave it.
        """
        match step:
            case MakeFolder():
                self._make_folder(step)
            case Write():
                self._write(step)
            case Move():
                self._move(step)
            case Remove():
                self._remove(step)

    def _make_folder(self, step: MakeFolder) -> None:
        parent = self._parent_of(step.at)
        self._refuse_taken(step.at, parent)
        self._attach(self.touch(Node("folder", step.at.volume, step.at.name, None)), parent, step.at.name)

    def _write(self, step: Write) -> None:
        parent = self._parent_of(step.at)
        standing = self.child(parent, step.at.name)
        if standing is None:
            if step.before is not None:
                raise self._refuse(step.at, "is not there, but the plan was made to change it")
            written = self.touch(Node("file", step.at.volume, step.at.name, None))
            self._attach(written, parent, step.at.name)
        else:
            written = self._write_over(step, standing, parent)
        written.content = step.content
        written.mode = step.mode if step.mode is not None else written.mode
        written.edits.append(step.edits)

    def _write_over(self, step: Write, standing: Node, parent: Node) -> Node:
        if standing.kind != "file":
            raise self._refuse(step.at, f"is a {standing.kind}, not a file; it cannot be written")
        if step.before is None:
            raise self._refuse(step.at, "is there already, but the plan was made to write a new file")
        if standing.content is not None:
            if _digest_of(standing.content) != step.before:
                raise self._refuse(step.at, "was planned on other content than the plan itself puts there")
            return standing
        assert standing.origin is not None
        self.expected.append((step.at, standing.origin, step.before))
        self.touch(standing)
        self._detach(standing)
        written = self.touch(Node("file", step.at.volume, standing.name, None, replaces=standing))
        standing.replaced_by = written
        self._attach(written, parent, standing.name)
        return written

    def _move(self, step: Move) -> None:
        moved = self._standing(step.source)
        if step.source.volume != step.to.volume:
            raise self._refuse(step.source, f"cannot be moved to another volume ({shown(step.to.volume)})")
        parent = self._parent_of(step.to)
        taken = self.child(parent, step.to.name)
        if taken is not None and taken is not moved:
            raise self._refuse(step.to, "is there already; nothing may be moved over it")
        if self._is_within(parent, moved):
            raise self._refuse(step.source, "cannot be moved into itself")
        self.touch(moved)
        self._detach(moved)
        self._attach(moved, parent, step.to.name)

    def _remove(self, step: Remove) -> None:
        removed = self.touch(self._standing(step.at))
        self._detach(removed)
        removed.is_removed = True

    def _standing(self, at: VolumePath) -> Node:
        """What a move or removal is about."""
        if at.is_in_ledger and not at.path.startswith(ASIDE + "/") and not _KEPT.fullmatch(at.path):
            raise self._refuse(at, "belongs to the card's ledger and is not moved")
        node = self.find(at)
        if node is None:
            raise self._refuse(at, "is not there")
        if node.parent is None:
            raise self._refuse(at, "is a volume itself and is not moved")
        if node.kind == "other":
            raise self._refuse(at, "is neither file, folder nor link; such things are left alone")
        return node

    def _parent_of(self, at: VolumePath) -> Node:
        if at.is_in_ledger and at.parent.path != ASIDE:
            raise self._refuse(at, "is in the card's ledger, where no plan may write")
        if not at.path:
            raise self._refuse(at, "is a volume itself")
        parent = self.find(at.parent)
        if parent is None:
            raise self._refuse(at.parent, "is not there; it should hold what the plan puts into it")
        if parent.kind != "folder":
            raise self._refuse(at.parent, f"is a {parent.kind}, not a folder; nothing is written through it")
        return parent

    def _refuse_taken(self, at: VolumePath, parent: Node) -> None:
        if self.child(parent, at.name) is not None:
            raise self._refuse(at, "is there already")

    @staticmethod
    def _refuse(at: VolumePath, why: str) -> PreflightError:
        return PreflightError(
            f"{shown(str(at))} {why}. Nothing was changed; look at the card again and plan anew.",
            path=str(at),
        )

    def touch(self, node: Node) -> Node:
        """Count a thing among those that the change is about."""
        if not node.is_touched:
            node.is_touched = True
            self.touched.append(node)
            if node.parent is not None:
                node.start = (node.parent, node.name)
                node.visited.append(node.start)
        return node

    def _attach(self, node: Node, parent: Node, name: str) -> None:
        node.parent, node.name = parent, name
        # Taken out and put in again, so that the newest name comes last in the listing.
        key = self.key(node.volume, name)
        parent.children.pop(key, None)
        parent.children[key] = node
        node.visited.append((parent, name))
        self._mark(parent)

    def _detach(self, node: Node) -> None:
        parent = node.parent
        assert parent is not None
        parent.children[self.key(node.volume, node.name)] = None
        node.parent = None
        self._mark(parent)

    @staticmethod
    def _mark(folder: Node | None) -> None:
        while folder is not None and not folder.is_changed_below:
            folder.is_changed_below = True
            folder = folder.parent

    @staticmethod
    def _is_within(node: Node | None, folder: Node) -> bool:
        while node is not None:
            if node is folder:
                return True
            node = node.parent
        return False

    def key(self, volume: str, name: str) -> str:
        return fold_host(name) if self.tree.names_rule(volume) == "fat" else name


def _digest_of(content: bytes | Prepared) -> str:
    return content.sha256 if isinstance(content, Prepared) else digest(content)

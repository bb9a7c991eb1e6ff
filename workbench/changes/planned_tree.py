"""The card as it will be after a plan, as a Tree: jobs plan the next wish on it and see no difference."""

from __future__ import annotations

import os
from collections.abc import Iterator
from typing import Protocol, runtime_checkable

from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule
from workbench.card.tree import Item, Tree
from workbench.card.volumes import Card
from workbench.changes.ground import kind_of
from workbench.changes.overlay import Node, Overlay
from workbench.changes.plan import Plan
from workbench.changes.steps import Prepared
from workbench.errors import CardError
from workbench.shown import shown


@runtime_checkable
class _HasCard(Protocol):
    card: Card


@runtime_checkable
class _HasLightWalk(Protocol):
    def walk_names(self, volume: str) -> tuple[tuple[str, bool], ...]: ...


class BelowPlan:
    """The tree under a plan, and beside it what the ledger keeps (an undo takes things from there)."""

    def __init__(self, tree: Tree) -> None:
        self.tree = tree

    def names_rule(self, volume: str) -> NamesRule:
        return self.tree.names_rule(volume)

    def spell(self, at: VolumePath) -> str:
        return at.name

    def stat(self, at: VolumePath) -> Item | None:
        if not at.is_in_ledger or not isinstance(self.tree, _HasCard):
            return self.tree.stat(at)
        try:
            found = os.lstat(self.tree.card.volume(at.volume).root / at.path)
        except OSError:
            return None
        return Item(at, kind_of(found), found.st_size, found.st_mode & 0o7777, found.st_mtime_ns)


class PlannedTree:
    """`tree` as it will be after `plan`. Nothing is read before it is asked for.

    Raises:
        PreflightError: a step of the plan cannot be carried out on that tree.
    """

    def __init__(self, tree: Tree, plan: Plan) -> None:
        self.tree = tree
        self.plan = plan
        self._overlay = Overlay(BelowPlan(tree))
        for step in plan.steps:
            self._overlay.carry_out(step)
        self._wanted = {listing.folder: listing.names for listing in plan.listings}
        self._walks: dict[str, tuple[tuple[str, bool], ...]] = {}

    def roles(self) -> tuple[str, ...]:
        """The roles of the volumes that are present."""
        return self.tree.roles()

    def names_rule(self, volume: str) -> NamesRule:
        """The host's rule for names on that volume."""
        return self.tree.names_rule(volume)

    def order_follows_moves(self, volume: str) -> bool:
        """Whether a folder there lists its names in the order in which they came."""
        return self.tree.order_follows_moves(volume)

    def list(self, folder: VolumePath) -> tuple[Item, ...]:
        """What the folder will hold; new names last, unless the plan sets the folder's order."""
        node = self._overlay.find(folder)
        if node is None:
            return self.tree.list(self.resolve(folder))
        if node.kind == "link":
            return tuple(_at(item, folder.child(item.name)) for item in self.list(self.resolve(folder)))
        if node.kind != "folder":
            raise CardError(f"{shown(str(folder))} is no folder; nothing was changed.", path=str(folder))
        return self._in_order(folder, tuple(self._children(node, folder)))

    def stat(self, at: VolumePath) -> Item | None:
        """The item at that place, a link itself, or None."""
        node = self._overlay.find(at)
        if node is not None:
            return self._item(node, at)
        through = self._follow_parent(at)
        return None if through is None else self.stat(through)

    def read(self, at: VolumePath, limit: int | None = None) -> bytes:
        """A file's bytes (at most `limit` where given); links within the volume are followed."""
        node = self._overlay.find(at)
        if node is None or node.kind == "link":
            place = self.resolve(at)
            if place == at:
                raise CardError(f"{shown(str(at))} is not there; nothing was changed.", path=str(at))
            return self.read(place, limit)
        if node.content is None:
            return self.tree.read(node.origin or at, limit)
        return read_content(node.content, limit)

    def resolve(self, at: VolumePath) -> VolumePath:
        """The place that `at` leads to, links within the volume followed.

        Raises:
            CardError: a link leads out of the volume, or in a circle.
        """
        node = self._overlay.find(at)
        if node is not None and node.kind != "link":
            return at
        return self._follow(at)

    def walk(self, folder: VolumePath) -> Iterator[Item]:
        """Everything below the folder, depth first, folders before their content, no links followed."""
        for item in self.list(folder):
            yield item
            if item.kind == "folder":
                yield from self.walk(item.at)

    def walk_names(self, volume: str) -> tuple[tuple[str, bool], ...]:
        """The whole volume as (path, whether it is a folder), folders before their content."""
        if volume not in self._walks:
            self._walks[volume] = tuple(self._walk_names(volume))
        return self._walks[volume]

    # One folder

    def _children(self, node: Node, folder: VolumePath) -> Iterator[Item]:
        changed = {key: child for key, child in node.children.items() if self._is_news(child)}
        if node.origin is not None:
            for item in self.tree.list(node.origin):
                if self._overlay.key(node.volume, item.name) not in changed:
                    yield _at(item, folder.child(item.name))
        for child in changed.values():
            if child is not None:
                yield self._item(child, folder.child(child.name))

    @staticmethod
    def _is_news(child: Node | None) -> bool:
        return child is None or child.is_touched

    def _in_order(self, folder: VolumePath, items: tuple[Item, ...]) -> tuple[Item, ...]:
        wanted = self._wanted.get(folder)
        if wanted is None:
            return items
        place = {name: number for number, name in enumerate(wanted)}
        return tuple(sorted(items, key=lambda item: place.get(item.name, len(place))))

    @staticmethod
    def _item(node: Node, at: VolumePath) -> Item:
        if node.item is not None:
            return _at(node.item, at)
        replaced = node.replaces.item if node.replaces is not None else None
        usual = 0o755 if node.kind == "folder" else 0o644
        mode = node.mode if node.mode is not None else replaced.mode if replaced is not None else usual
        return Item(at, node.kind, _size_of(node), mode, replaced.mtime_ns if replaced is not None else 0)

    # The whole volume

    def _walk_names(self, volume: str) -> Iterator[tuple[str, bool]]:
        root = self._overlay.root(volume)
        light = isinstance(self.tree, _HasLightWalk)
        if not light:
            yield from ((item.at.path, item.kind == "folder") for item in self.walk(VolumePath(volume, "")))
            return
        assert isinstance(self.tree, _HasLightWalk)
        below = self.tree.walk_names(volume)
        if not root.is_changed_below:
            yield from below
            return
        yield from self._carry_over(volume, below)
        for node in self._overlay.touched:
            place = self._overlay.place_of(node) if node.volume == volume and node.origin is None else None
            if place is not None and not place.is_in_ledger:
                yield place.path, node.kind == "folder"

    def _carry_over(self, volume: str, below: tuple[tuple[str, bool], ...]) -> Iterator[tuple[str, bool]]:
        """What the tree below has, at its new places, in one pass: folders come before their content."""
        touched = {
            node.origin.path: self._overlay.place_of(node)
            for node in self._overlay.touched
            if node.origin is not None and node.volume == volume
        }
        moved: dict[str, str | None] = {}
        for path, is_folder in below:
            parent, _, name = path.rpartition("/")
            here: str | None = path
            if path in touched:
                place = touched[path]
                here = None if place is None or place.is_in_ledger else place.path
            elif parent in moved:
                above = moved[parent]
                here = None if above is None else f"{above}/{name}"
            if here is not None:
                yield here, is_folder
            if is_folder and here != path:
                moved[path] = here

    # Links

    def _follow_parent(self, at: VolumePath) -> VolumePath | None:
        """The place with the links on the way to it followed; None where that changes nothing."""
        if not at.path or not self._has_link_above(at):
            return None
        place = self._follow(at.parent).child(at.name)
        return None if place == at else place

    def _has_link_above(self, at: VolumePath) -> bool:
        folder = at.parent
        while folder.path:
            node = self._overlay.find(folder)
            if node is not None:
                return node.kind == "link"
            folder = folder.parent
        return False

    def _follow(self, at: VolumePath) -> VolumePath:
        """By the tree below: a plan moves links with what they say, it does not make new ones."""
        place = at
        while place.path:
            node = self._overlay.find(place)
            if node is not None and node.kind == "link" and node.origin is not None:
                target = self.tree.resolve(node.origin)
                rest = at.path[len(place.path) :].lstrip("/")
                return self.resolve(target.child(rest)) if rest else target
            if node is not None:
                return at
            place = place.parent
        return at


def _at(item: Item, at: VolumePath) -> Item:
    return item if item.at == at else Item(at, item.kind, item.size, item.mode, item.mtime_ns)


def _size_of(node: Node) -> int:
    if node.content is None:
        return 0
    return node.content.size if isinstance(node.content, Prepared) else len(node.content)


def read_content(content: bytes | Prepared, limit: int | None) -> bytes:
    """The bytes of new content (at most `limit` where given)."""
    if isinstance(content, bytes):
        return content if limit is None else content[:limit]
    try:
        with open(content.file, "rb") as prepared:
            return prepared.read() if limit is None else prepared.read(limit)
    except OSError as error:
        raise CardError(f"the prepared file {shown(content.file)} is gone; plan anew.") from error

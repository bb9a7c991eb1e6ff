"""A folder's own order, for devices that list it as it is: set by moving every name out and back in.

Only FAT and exFAT keep names in the order in which they came; other file systems sort them in a way of
their own, and then the order cannot be set there and is refused with that reason.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from workbench.card.paths import ASIDE, VolumePath
from workbench.card.tree import Tree
from workbench.changes.plan import Listing, Move, Plan
from workbench.errors import EntryError


def plan_listing(tree: Tree, folder: VolumePath, wanted: Sequence[str], title: str) -> Plan:
    """Set the order of a folder to these names; what else it holds stays before them, in its order.

    Raises:
        EntryError: this file system lists names in an order of its own.
    """
    if not tree.order_follows_moves(folder.volume):
        raise EntryError(
            f"the disk that {folder} lies on lists names in an order of its own, so it cannot be set there; "
            "nothing was changed. Do it on the card itself (FAT or exFAT).",
            path=str(folder),
        )
    found = [item.name for item in tree.list(folder)]
    order = [*(name for name in found if name not in set(wanted)), *wanted]
    return Plan(title, _relist(folder, found, order), listings=(Listing(folder, tuple(order)),))


def keep_listing(tree: Tree, folder: VolumePath, moves: Sequence[Move]) -> tuple[tuple[Move, ...], Listing]:
    """The same moves, made so that every name of the folder keeps its place in the folder's order."""
    renamed = {
        move.source.name: move.to.name for move in moves if move.source.parent == folder == move.to.parent
    }
    elsewhere = tuple(move for move in moves if move.source.parent != folder)
    found = [item.name for item in tree.list(folder)]
    order = tuple(renamed.get(name, name) for name in found)
    return elsewhere + _relist(folder, found, order, renamed), Listing(folder, order)


def _relist(
    folder: VolumePath,
    found: Sequence[str],
    order: Sequence[str],
    renamed: Mapping[str, str] = MappingProxyType({}),
) -> tuple[Move, ...]:
    """Moves that take every name of a folder out and put it back in this order, some under another name."""
    slots = {
        renamed.get(name, name): (name, VolumePath(folder.volume, f"{ASIDE}/{number:05d}"))
        for number, name in enumerate(found)
    }
    out = tuple(Move(folder.child(name), slot) for name, slot in slots.values())
    return out + tuple(Move(slots[name][1], folder.child(name)) for name in order)

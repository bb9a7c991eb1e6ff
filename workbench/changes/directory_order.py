"""Sets a folder's own order: every thing out into the change's folder, then back in the order wanted.

FAT and exFAT list names by their slots, and freed slots are filled from the front (standard practice of both;
see the FAT specification on directory entries). exFAT in user space lists from memory, in another order,
until the card is mounted again: there the listing proves nothing.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbench.changes.record import FolderOrder
from workbench.changes.settle import Settling
from workbench.changes.touched import OWN, Location, Touched
from workbench.shown import shown


def set_orders(settling: Settling, *, forward: bool, always: bool) -> None:
    """Bring the order of each folder to that of the change's end or start.

    `always`: move even where the listing looks right (a mount that lists from memory).
    """
    for order in settling.record.orders:
        if order.volume == settling.ground.role:
            _set_order(settling, order, order.wanted if forward else order.before, always)


def _set_order(settling: Settling, order: FolderOrder, wanted: Sequence[str], always: bool) -> None:
    things = _things_in(settling, order)
    sequence = [name for name in wanted if name in things]
    if not always and _shown_order(settling, order, sequence) == sequence:
        return
    homes = {name: settling.standing.where[things[name].id] for name in sequence}
    for name in sequence:
        settling.move(things[name], Location(OWN, f"aside/{things[name].id}"))
    for name in sequence:
        home = homes[name]
        assert home is not None
        settling.move(things[name], home)
    settling.flush()
    if not settling.ground.is_fuse and _shown_order(settling, order, sequence) != sequence:
        place = f"{settling.ground.role}:{settling.folder_path(order.folder) or ''}"
        settling.reports.append(
            f"{shown(place)} still lists its names in another order: this file system has one of its own."
        )


def _things_in(settling: Settling, order: FolderOrder) -> dict[str, Touched]:
    folder = order.folder
    found = {}
    for thing in settling.things:
        place = settling.standing.where.get(thing.id)
        if place is None or place.base != folder.base:
            continue
        above, _, name = place.path.rpartition("/")
        if above == folder.path:
            found[name] = thing
    return found


def _shown_order(settling: Settling, order: FolderOrder, names: Sequence[str]) -> list[str]:
    path = settling.folder_path(order.folder)
    wanted = set(names)
    return [] if path is None else [name for name in settling.ground.names(path) if name in wanted]

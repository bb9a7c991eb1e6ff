"""What a power cut left twice, or empty: put aside before anything is moved, never unlinked.

Two names of one thing share its clusters on FAT and exFAT, and fsck cuts one of the two to nothing. So where
there is a copy elsewhere, both go aside and the thing is made again on clusters of its own.
"""

from __future__ import annotations

from workbench.changes.remake import can_remake
from workbench.changes.settle import Settling
from workbench.changes.touched import Touched
from workbench.shown import shown


def put_doubles_aside(settling: Settling) -> None:
    """Second names, and empty leftovers, go into the change's folder `doubles`; each is reported."""
    for number, location in settling.standing.doubles:
        path = settling.path(location)
        if path is not None:
            settling.set_aside(path)
            settling.reports.append(_part_with(settling, settling.record.thing(number), path))
    for location in settling.standing.ghosts:
        path = settling.path(location)
        if path is not None:
            settling.set_aside(path)
            settling.reports.append(
                f"{shown(path)} was there with nothing in it after a power cut; it now lies in "
                f"{settling.record.folder}/doubles."
            )


def _part_with(settling: Settling, thing: Touched, second: str) -> str:
    """Give up the first name too where everything can be made again; what is to be told."""
    place = settling.standing.where.get(thing.id)
    first = None if place is None else settling.path(place)
    told = f"{shown(second)} was there under two names after a power cut"
    inner = [other for other in settling.things if _stands_in(settling, other, thing)]
    if first is not None and all(
        can_remake(settling.ground, settling.record, one) for one in (thing, *inner)
    ):
        settling.set_aside(first)
        for one in (thing, *inner):
            settling.stand(one.id, None)
        return f"{told}; it was made again from its copy, and both names now lie in {_doubles(settling)}."
    settling.standing.has_copy.discard(thing.id)
    settling.doubled.add(thing.id)
    return (
        f"{told}; the second name now lies in {_doubles(settling)}. Copy what matters of it elsewhere before "
        f"fsck mends the volume {shown(settling.ground.role)}: it may cut either of the two to nothing."
    )


def _stands_in(settling: Settling, other: Touched, folder: Touched) -> bool:
    place = settling.standing.where.get(other.id)
    return other is not folder and place is not None and settling.hangs_on(place, folder)


def _doubles(settling: Settling) -> str:
    return f"{settling.record.folder}/doubles"

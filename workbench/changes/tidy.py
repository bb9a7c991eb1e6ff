"""What a change leaves behind when it ends or never began: working files of ours go, anything else stays."""

from __future__ import annotations

import contextlib
from collections.abc import Mapping

from workbench.card.volumes import Card
from workbench.changes.ground import Ground
from workbench.changes.host_keep import drop_copies
from workbench.changes.ledger import (
    CHANGES,
    RECENT,
    Entered,
    list_changes,
    load_record,
    open_grounds,
    read_grounds,
    read_volume_id,
)
from workbench.changes.marks import read_state
from workbench.changes.remake import PACKS, PART, remove_tree
from workbench.changes.settle import Settling
from workbench.changes.touched import OWN
from workbench.errors import LedgerError, UnfinishedChangeError
from workbench.shown import shown

MEND_FIRST = "If the card was pulled out or lost its power, let fsck mend its volumes first."
"""Said before a recovery: on FAT a file may read well while its clusters count as free."""


def refuse_unfinished(card: Card, grounds: Mapping[str, Ground]) -> None:
    """Nothing is written while a change is under way; leftovers of one that never began are cleared.

    Raises:
        UnfinishedChangeError: naming the change.
    """
    with open_grounds([volume for volume in card.present if volume.role not in grounds]) as others:
        for entered in find_open({**others, **grounds}):
            raise UnfinishedChangeError(
                f"change {entered.record.number} ({shown(entered.record.title)}) began and did not end. "
                "Nothing more was written; run `cardwright recover` to finish it or to take it back. "
                f"{MEND_FIRST}"
            )
    clear_leftovers(grounds)


def find_open(grounds: Mapping[str, Ground]) -> list[Entered]:
    """Changes that began on some volume that is here and are not at an end there, latest first."""
    book = read_grounds(grounds, open_only=True)
    return [
        one
        for one in reversed(book.entered.values())
        if one.state == "begun" or (one.state == "prepared" and _may_have_begun(one, grounds))
    ]


def _may_have_begun(entered: Entered, grounds: Mapping[str, Ground]) -> bool:
    """Prepared here, while a volume that is not here may say more."""
    return any(
        role not in entered.states and (role not in grounds or _id_of(grounds[role]) != volume)
        for role, volume in entered.record.volumes.items()
    )


def _id_of(ground: Ground) -> str | None:
    try:
        return read_volume_id(ground)
    except LedgerError:
        return None


def clear_leftovers(grounds: Mapping[str, Ground]) -> list[str]:
    """Take away what was prepared for changes that never began (none is open now); their ids."""
    cleared = []
    for ground in grounds.values():
        for change in list_changes(ground)[-RECENT:]:
            if _never_began(ground, change):
                with contextlib.suppress(LedgerError):
                    drop_copies(load_record(ground, change))
                remove_tree(ground, f"{CHANGES}/{change}")
                cleared.append(change)
    return cleared


def _never_began(ground: Ground, change: str) -> bool:
    state = read_state(ground, f"{CHANGES}/{change}/marks", change)
    if state == "prepared":
        return True
    return state is None and ground.lstat(f"{CHANGES}/{change}/plan.json") is None


def tidy(settling: Settling, *, forward: bool) -> list[str]:
    """Drop the reserve and what is left in `stage/`; what was found that is not ours is reported.

    Failing to is harmless: the change is at its end.
    """
    ground, folder = settling.ground, settling.record.folder
    for name in ("reserve", PACKS["moved"]):
        with contextlib.suppress(OSError):
            ground.remove_file(f"{folder}/{name}")
    with contextlib.suppress(OSError):
        _drop_staged(settling)
    if not forward:
        with contextlib.suppress(OSError):
            _drop_copies(settling)
    for name in ("aside", "stage"):
        with contextlib.suppress(OSError):
            if ground.lstat(f"{folder}/{name}") is not None:
                ground.remove_folder(f"{folder}/{name}")
    with contextlib.suppress(OSError):
        if ground.lstat(f"{folder}/stage") is not None:
            return [
                f"{shown(ground.role)}:{folder}/stage holds things that came into folders of this change "
                "meanwhile; they were left there."
            ]
    return []


def _drop_staged(settling: Settling) -> None:
    """New content that is not wanted any more, and pieces of ours that were cut off."""
    ground, folder = settling.ground, f"{settling.record.folder}/stage"
    new = {str(thing.id): thing for thing in settling.things if thing.is_new}
    for name in ground.names(folder):
        if name.endswith(PART):
            remove_tree(ground, f"{folder}/{name}")
        thing = new.get(name.removeprefix("again-"))
        if thing is None or thing.id in settling.doubled:
            continue  # a card's own file, or one whose clusters another name may share
        with contextlib.suppress(OSError):
            if thing.is_made_folder:
                ground.remove_folder(f"{folder}/{name}")
            else:
                ground.remove_file(f"{folder}/{name}")


def _drop_copies(settling: Settling) -> None:
    """Second copies of what is back in its place."""
    ground, folder = settling.ground, settling.record.folder
    for thing in settling.things:
        place = settling.standing.where.get(thing.id)
        is_home = place is not None and place.base != OWN
        if thing.copy == "kept" and is_home and ground.lstat(f"{folder}/kept/{thing.id}") is not None:
            ground.remove_file(f"{folder}/kept/{thing.id}")
    if ground.lstat(f"{folder}/kept.pack") is not None:
        ground.remove_file(f"{folder}/kept.pack")

"""Lets what was removed leave the card once the change is done and a checked copy on the host stands for it.

The change is marked first: from then on nobody looks at what lies in its keep, which may be a half.
"""

from __future__ import annotations

from workbench.changes.ground import Ground
from workbench.changes.host_keep import HostKeep, check_copies
from workbench.changes.host_keeping import is_to_hand_over
from workbench.changes.ledger import CHANGES
from workbench.changes.marks import has_remark, put_mark
from workbench.changes.record import Record
from workbench.changes.remake import remove_tree
from workbench.errors import LedgerError
from workbench.shown import shown


def hand_over(ground: Ground, record: Record) -> list[str]:
    """Take what was removed off a volume; sentences about what could not be."""
    things = find_handed(record, ground.role)
    keep = record.kept_on.get(ground.role)
    if keep is None or not things:
        return []
    marks = f"{record.folder}/marks"
    try:
        if not has_remark(ground, marks, record.id, "handed-over"):
            for thing in things:
                check_copies(record, ground.role, thing)
            put_mark(ground, marks, record.id, "handed-over")
        for thing in things:
            remove_tree(ground, f"{record.folder}/kept/{thing}")
        ground.sync_folder(f"{record.folder}/kept")
    except (OSError, LedgerError):
        return [_stays(ground, keep)]
    return []


def is_handed_over(ground: Ground, record: Record) -> bool:
    """Whether the host's copies of what was removed are the only ones."""
    return has_remark(ground, f"{CHANGES}/{record.id}/marks", record.id, "handed-over")


def find_handed(record: Record, role: str) -> frozenset[int]:
    """Ids of the removed things on a volume that the host has a copy of."""
    keep = record.kept_on.get(role)
    if keep is None:
        return frozenset()
    mine = record.of_volume(role)
    return frozenset(thing.id for thing in mine if thing.id in keep.things and is_to_hand_over(thing, mine))


def _stays(ground: Ground, keep: HostKeep) -> str:
    return (
        f"what was removed stays in the ledger of the volume {shown(ground.role)}: its copy in "
        f"{shown(keep.folder)} could not be relied on."
    )

"""Rules about our own record on the card, and about edits that the device has written over."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator

from workbench.card.paths import VolumePath
from workbench.errors import CardError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule

UNFINISHED = Rule("unfinished-change", "error", "has a change that began and did not end")
KEPT = Rule("damaged-kept-copy", "warning", "has a kept copy that cannot be had any more")
LOST_EDIT = Rule("lost-edit", "warning", "was written again by the device after a change of ours")
WATCHED = Rule("rewritten-file", "note", "is written back by the device when its menu ends")
RULES = (UNFINISHED, KEPT, LOST_EDIT, WATCHED)


def find(card: CheckedCard) -> Iterator[Finding]:
    """What the ledger says; nothing where it was not looked at."""
    ledger = card.health.ledger if card.health is not None else None
    if ledger is None:
        return
    if ledger.unfinished:
        role = next(iter(card.roles), "")
        message = (
            f"{ledger.unfinished} is unfinished: finish it or take it back with recover before anything else"
        )
        yield UNFINISHED.found(VolumePath(role, ""), message)
    for fault in ledger.faults:
        what = f"change {fault.number}: {fault.because}" if fault.number is not None else fault.because
        yield KEPT.found(fault.at, what)
    for edit in ledger.edits:
        if not card.is_rewritten(edit.at):
            continue
        try:
            now = hashlib.sha256(card.tree.read(edit.at)).hexdigest()
        except CardError:
            continue
        if now != edit.sha256:
            message = (
                f"the device has written it since change {edit.number}: what that change set may be lost"
            )
            yield LOST_EDIT.found(edit.at, message)
        else:
            message = (
                f"change {edit.number} wrote it; a device whose menu still runs writes over it at its end"
            )
            yield WATCHED.found(edit.at, message)

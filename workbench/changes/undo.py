"""A plan that takes a change back, made from the ledger and carried out like any other plan.

Places are followed through later changes. What is as the change left it gets its old bytes; of a manifest
that changed since, exactly the change's own edits are taken back; anything else is a conflict with its cause.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from workbench.card.derived import list_derived
from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.host_keep import KEPT_COPY, relocate
from workbench.changes.ledger import Book, Entered, open_grounds, read_grounds
from workbench.changes.plan import Conflict, Plan
from workbench.changes.record import Record
from workbench.changes.reversal import Reversal
from workbench.errors import CardwrightError, ConflictError, LedgerError
from workbench.shown import shown
from workbench.values import replace


def plan_undo(
    card: Card,
    number: int | str,
    *,
    after_too: bool = False,
    partial: bool = False,
    keep_on: Path | None = None,
) -> Plan:
    """Take a change back, alone or with all after it; it is named by its number, or by its id.

    `partial`: only the parts without conflict; the conflicts are listed in the plan. `keep_on`: the folder
    with what a change keeps on this computer, where it is not where it was.

    Raises:
        LedgerError: there is no such change, or it does not stand any more.
        ConflictError: it cannot be taken back without losing what came later.
    """
    with open_grounds(card.present) as grounds:
        book = read_grounds(grounds)
        wanted = relocate(_find(book, number), keep_on)
        chosen = [relocate(one, keep_on) for one in _choose(book, wanted)] if after_too else [wanted]
        plan = Plan(_title(chosen), ())
        derived = _list_derived(card)
        for record in chosen:
            for role in record.volumes:
                card.volume(role)
            let_go = book.entered[record.id].let_go
            later = list_later(book, record, chosen)
            reversal = Reversal(record, later, DiskTree(card), plan, grounds, let_go=let_go, derived=derived)
            plan = replace(plan.then(reversal.plan()), title=plan.title)
    gone = {record.number: _find_gone(book, record) for record in chosen}
    missing = [conflict for conflict in plan.conflicts if KEPT_COPY in conflict.because]
    if missing and not (partial and plan.steps):
        why = next(why for why in gone.values() if why)
        raise _conflict_gone(plan, missing, wanted, why, sum(map(count_parts, chosen)))
    if plan.conflicts and not partial:
        raise _conflict(plan, wanted)
    if not plan.steps:
        raise CardwrightError(f"nothing of change {number} can be taken back any more; nothing was changed")
    if not plan.conflicts:
        return plan
    return replace(plan, title=f"{plan.title} (in part)")


def _list_derived(card: Card) -> tuple[VolumePath, ...]:
    """Where the device keeps lists that it makes from others."""
    return () if card.profile is None else list_derived(DiskTree(card), card.profile)


def _find(book: Book, number: int | str) -> Record:
    found = [one for one in book.entered.values() if number in (one.record.number, one.record.id)]
    if not found:
        start = f"{number:04d}-" if isinstance(number, int) else number
        damaged = [one for one in book.damaged if one.id.startswith(start)]
        why = f": {damaged[0].because}" if damaged else ""
        raise LedgerError(
            f"the card's ledger has no change {number} that can be read{why}; nothing was changed"
        )
    if len(found) > 1:
        raise LedgerError(
            f"two changes of this card bear the number {number}: its volumes were used apart. Nothing was "
            f"changed. Name the one you mean by its id: {_list_ids(found)}."
        )
    entered = found[0]
    if entered.state != "done":
        raise LedgerError(f"change {number} does not stand (it is {entered.state}); nothing was changed")
    undone_by = book.undone_by(entered.record.id)
    if undone_by is not None:
        raise LedgerError(
            f"change {number} was taken back by change {undone_by}; nothing was changed. Take back change "
            f"{undone_by} to have it again."
        )
    return entered.record


def _list_ids(found: Sequence[Entered]) -> str:
    return " or ".join(f"{one.record.id} ({shown(one.record.title)})" for one in found)


def _choose(book: Book, wanted: Record) -> list[Record]:
    """That change and all after it that stand, latest first; what was taken back among them cancels out."""
    after = [record for record in book.done if record.number >= wanted.number]
    ids = {record.id for record in after}
    return [
        record
        for record in reversed(after)
        if book.undone_by(record.id) is None and not ids.intersection(record.undoes)
    ]


def list_later(book: Book, record: Record, chosen: Sequence[Record]) -> list[Record]:
    """The changes after it, without those that are taken back together with it and before it."""
    done = list(book.done)
    taken = {one.id for one in chosen}
    return [one for one in done[[one.id for one in done].index(record.id) + 1 :] if one.id not in taken]


def _title(chosen: Sequence[Record]) -> str:
    if len(chosen) == 1:
        return f"Take back {chosen[0].number}: {chosen[0].title}"
    return f"Take back {chosen[-1].number} and {len(chosen) - 1} after it: {chosen[-1].title}"


def _conflict(plan: Plan, wanted: Record) -> ConflictError:
    first = plan.conflicts[0]
    more = f" ({len(plan.conflicts) - 1} more places are in conflict.)" if len(plan.conflicts) > 1 else ""
    return ConflictError(
        f"change {wanted.number} ({shown(wanted.title)}) cannot be taken back alone: {shown(str(first.at))} "
        f"{first.because}.{more} Nothing was changed. Take back the later changes too, or only the parts "
        "without conflict.",
        path=str(first.at),
        line=first.line,
    )


def count_parts(record: Record) -> int:
    """How many things a change touched; a file and what replaced it are one."""
    return sum(not (thing.is_new and thing.replaces is not None) for thing in record.things)


def _find_gone(book: Book, record: Record) -> str:
    """Why a change's kept copies cannot be had; empty where they can."""
    if book.entered[record.id].let_go:
        return "its kept copies were let go"
    absent = [keep.folder for keep in record.kept_on.values() if not keep.is_there]
    if not absent:
        return ""
    return (
        f"its kept copies lie in {shown(absent[0])}, which is not here (where they are now can be said with "
        "--keep-on FOLDER)"
    )


def _conflict_gone(
    plan: Plan, missing: Sequence[Conflict], wanted: Record, why: str, parts: int
) -> ConflictError:
    first = missing[0]
    left = parts - len({conflict.at for conflict in plan.conflicts})
    places = ", ".join(shown(str(conflict.at)) for conflict in missing[:3])
    more = f" and {len(missing) - 3} more" if len(missing) > 3 else ""
    rest = (
        f"{left} of its {parts} parts can still be taken back: take back only the parts without conflict."
        if plan.steps
        else "Nothing else of it can be taken back."
    )
    return ConflictError(
        f"change {wanted.number} ({shown(wanted.title)}) cannot be taken back "
        f"{'whole' if plan.steps else 'any more'}: {why}, and {places}{more} "
        f"cannot be as before without them. Nothing was changed. {rest}",
        path=str(first.at),
        line=first.line,
    )

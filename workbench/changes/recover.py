"""Ends a change that began and did not end: forward to its end or back to its start, both exact.

Goal-directed: it trusts no record of single steps, finds every thing of the change again by what it is,
refuses before anything moves if one is lost or a stranger is in the way, and may itself be cut off and run
again.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Literal

from workbench.card.read_only import judge_read_only
from workbench.card.volumes import Card
from workbench.changes.directory_order import set_orders
from workbench.changes.doubles import put_doubles_aside
from workbench.changes.ground import Ground, explain
from workbench.changes.handing_over import hand_over
from workbench.changes.host_keep import drop_copies, relocate
from workbench.changes.ledger import Entered, open_grounds, read_volume_id
from workbench.changes.locate import Search, refuse_lost
from workbench.changes.lock import hold_volumes
from workbench.changes.marks import State, put_mark
from workbench.changes.opening_up import refuse_unasked
from workbench.changes.record import Record
from workbench.changes.settle import Settling
from workbench.changes.tidy import MEND_FIRST, clear_leftovers, find_open, tidy
from workbench.changes.touched import Touched
from workbench.errors import CardError, LedgerError, PreflightError, UnfinishedChangeError
from workbench.shown import shown
from workbench.values import dataclass

Way = Literal["forward", "back"]


@dataclass(frozen=True, slots=True)
class Unfinished:
    """A change that blocks writing."""

    number: int
    id: str
    title: str
    time: str
    volumes: Mapping[str, State | None]
    """What each volume that is here says of it."""
    waiting_for: tuple[str, ...]
    """Roles of its volumes that are absent, or that are here with another history."""
    can_go_forward: bool
    """Not where a part of it was already taken back without the rest."""
    caution: str = MEND_FIRST


@dataclass(frozen=True, slots=True)
class Recovered:
    """How a recovery ended."""

    number: int
    id: str
    title: str
    sentence: str
    notes: tuple[str, ...] = ()


def find_unfinished(card: Card) -> Unfinished | None:
    """The change that has to be ended before anything else is written, if there is one."""
    with open_grounds(card.present) as grounds:
        entered = next(iter(find_open(grounds)), None)
        if entered is None:
            return None
        return Unfinished(
            number=entered.record.number,
            id=entered.record.id,
            title=entered.record.title,
            time=entered.record.time,
            volumes=dict(entered.states),
            waiting_for=_missing(entered, grounds),
            can_go_forward=not _closed(entered, grounds),
        )


def recover(
    card: Card, way: Way, *, without: Collection[str] = (), keep_on: Path | None = None
) -> Recovered | None:
    """End the unfinished change; None where there is none.

    `without`: roles of absent volumes that are not waited for; only the way back is open then, and they are
    offered their own way back when they return. `keep_on`: the folder with what the change keeps on this
    computer, where it is not where it was.

    Raises:
        UnfinishedChangeError: a volume is missing, a thing is lost or in the way, or the card failed. What
            was kept is still kept; it can be run again, either way.
    """
    with open_grounds(card.present) as grounds, hold_volumes(grounds.values()):
        entered = next(iter(find_open(grounds)), None)
        if entered is None:
            return _clear(grounds)
        closed = _closed(entered, grounds)
        _refuse_missing(entered, _missing(entered, grounds), closed, way, without)
        here = {role: grounds[role] for role in entered.states if role not in closed}
        _refuse_read_only(card, here)
        try:
            notes = _end(relocate(entered.record, keep_on), here, forward=way == "forward")
        except OSError as error:
            raise UnfinishedChangeError(
                f"change {entered.record.number} ({shown(entered.record.title)}) could not be ended: "
                f"{explain(error)}. Everything that it replaces is kept. Let fsck mend the card's volumes "
                "until it finds nothing more (that may take two runs), then run `cardwright recover` again."
            ) from error
        except CardError as error:
            raise UnfinishedChangeError(error.message, path=error.path) from error
        sentence = "it was finished." if way == "forward" else "it was taken back; the card is as before."
        record = entered.record
        return Recovered(record.number, record.id, record.title, sentence, tuple(notes))


def _clear(grounds: Mapping[str, Ground]) -> Recovered | None:
    cleared = clear_leftovers(grounds)
    if not cleared:
        return None
    number = int(cleared[0].partition("-")[0])
    return Recovered(
        number,
        cleared[0],
        "not begun",
        "it had not begun, so nothing had been changed; its leftovers are gone.",
    )


def _missing(entered: Entered, grounds: Mapping[str, Ground]) -> tuple[str, ...]:
    """Roles of the change's volumes that are absent, or are here without this change in their history."""
    return tuple(
        role
        for role, volume_id in entered.record.volumes.items()
        if role not in entered.states or _volume_id(grounds[role]) != volume_id
    )


def _closed(entered: Entered, grounds: Mapping[str, Ground]) -> set[str]:
    """Roles where it was taken back and tidied up: what the way forward needs is gone there."""
    return {
        role
        for role, state in entered.states.items()
        if state == "back" and grounds[role].lstat(f"{entered.record.folder}/stage") is None
    }


def _volume_id(ground: Ground) -> str | None:
    try:
        return read_volume_id(ground)
    except LedgerError:
        return None


def _refuse_missing(
    entered: Entered, missing: tuple[str, ...], closed: set[str], way: Way, without: Collection[str]
) -> None:
    record = entered.record
    awaited = [role for role in missing if role not in without]
    if awaited:
        raise UnfinishedChangeError(
            f"change {record.number} ({shown(record.title)}) also touches the volume {shown(awaited[0])}, "
            "which is not here, or is here as a copy with another history. Nothing was changed. Put that "
            "volume in and run recover again, or take back the rest alone with "
            f"--back --without {shown(awaited[0])}.",
            path=f"{awaited[0]}:",
        )
    if way == "forward" and (missing or closed):
        raise UnfinishedChangeError(
            f"change {record.number} ({shown(record.title)}) cannot be finished: a part of it is "
            f"{'not here' if missing else 'already taken back'}. Nothing was changed; take the rest back."
        )


def _refuse_read_only(card: Card, roles: Collection[str]) -> None:
    for role in roles:
        if card.volume(role).read_only:
            try:
                refuse_unasked(judge_read_only(card, role))
            except PreflightError as error:  # it stays unfinished, which has an exit code of its own
                raise UnfinishedChangeError(error.message, path=error.path) from error


def _end(record: Record, grounds: Mapping[str, Ground], *, forward: bool) -> list[str]:
    settlings = [_ready(record, ground, forward=forward) for ground in grounds.values()]
    notes: list[str] = []
    for settling in settlings:
        settling.ground.check_identity()
        put_doubles_aside(settling)
        settling.run(forward=forward)
        set_orders(settling, forward=forward, always=False)
        settling.check()
        notes += settling.reports
    for ground in grounds.values():
        put_mark(ground, f"{record.folder}/marks", record.id, "done" if forward else "back")
    for settling in settlings:
        notes += tidy(settling, forward=forward)
        if forward:
            notes += hand_over(settling.ground, record)
    if not forward:
        drop_copies(record)
    return notes


def _ready(record: Record, ground: Ground, *, forward: bool) -> Settling:
    """Where everything stands on one volume; refused if the goal cannot be reached from there."""
    search = Search(ground, record)
    standing = search.run()
    lost = search.find_lost(standing, forward=forward)
    _refuse_absent_copies(record, ground.role, lost)
    refuse_lost(record, ground.role, lost, search.find_strangers(standing, forward=forward))
    return Settling(ground, record, standing)


def _refuse_absent_copies(record: Record, role: str, lost: Sequence[Touched]) -> None:
    """What is nowhere on the card is kept on a computer: say where, not to look for it with fsck."""
    keep = record.kept_on.get(role)
    needed = [thing for thing in lost if thing.copy in ("pack", "host", "edits")]
    if keep is None or keep.is_there or not needed:
        return
    place = record.place(role, needed[0].visited[0], at_end=False)
    more = f" and {len(needed) - 1} more" if len(needed) > 1 else ""
    raise UnfinishedChangeError(
        f"the kept copies of change {record.number} ({shown(record.title)}) lie in {shown(keep.folder)} on "
        f"the computer that wrote it, and that folder is not here. {shown(str(place))}{more} cannot be had "
        "without it. Nothing was changed. Recover on that computer, or name the folder where they are now "
        "with --keep-on FOLDER.",
        path=keep.folder,
    )

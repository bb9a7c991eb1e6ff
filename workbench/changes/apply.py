"""Carries out a plan: the one road by which anything is written to a card.

Everything is checked, staged, kept and flushed on all volumes; then the change has begun, everything is put
in its place; then it is done. Until it has begun a failure leaves the card as it was; afterwards `recover`
can go either way.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Mapping
from functools import partial
from pathlib import Path
from typing import ClassVar, Protocol

from workbench.card.volumes import Card
from workbench.changes.directory_order import set_orders
from workbench.changes.ground import Ground, explain
from workbench.changes.handing_over import hand_over
from workbench.changes.host_keeping import HostKeeping, check_keep_folder
from workbench.changes.ledger import Change, last_number, open_grounds, size_below, tell_keep
from workbench.changes.lock import hold_volumes
from workbench.changes.marks import put_mark, read_state
from workbench.changes.plan import Plan
from workbench.changes.preflight import refuse_read_only, survey_plan
from workbench.changes.prepare import Preparation, start_record
from workbench.changes.record import Record
from workbench.changes.settle import Settling, Standing
from workbench.changes.tidy import refuse_unfinished, tidy
from workbench.changes.touched import OWN, Location
from workbench.errors import CardError, CardwrightError, PreflightError, UnfinishedChangeError
from workbench.shown import shown


class Progress(Protocol):
    """Told of each piece of work as it starts."""

    def __call__(self, words: str, done: int, total: int) -> None: ...


class CancelledError(CardwrightError):
    """The person stopped a plan before it had begun; nothing was changed."""

    kind: ClassVar[str] = "cancelled"


def apply(
    card: Card,
    plan: Plan,
    *,
    progress: Progress | None = None,
    cancelled: Callable[[], bool] | None = None,
    keep_on: Path | None = None,
) -> Change:
    """Write a plan to the card.

    Args:
        cancelled: asked before each piece of work until the change has begun; after that it is carried out.
        keep_on: a folder on this computer for the kept copies of a volume that is too full for them.

    Raises:
        PreflightError, CardError, NameRefusedError, CancelledError: nothing was changed.
        UnfinishedChangeError: the change began and did not end, or an earlier one did not; run `recover`.
    """
    refuse_read_only(card, plan)
    folder = None if keep_on is None else check_keep_folder(card, keep_on)
    teller = _Teller(progress, cancelled)
    with (
        open_grounds([card.volume(role) for role in plan.volumes]) as grounds,
        hold_volumes(grounds.values()),
    ):
        refuse_unfinished(card, grounds)
        survey = survey_plan(card, plan, grounds, keep_on=folder is not None)
        teller.total = len(survey.work.contents) + len(survey.work.things)
        record = start_record(plan, survey, grounds, last_number(card) + 1)
        preparation = Preparation(grounds, survey, record, teller.heed)
        with contextlib.ExitStack() as held:
            if folder is not None and survey.on_host:
                preparation.keeping = held.enter_context(HostKeeping(folder, record))
            record = _prepare(preparation, teller)
        _begin(preparation, record, grounds)
        return _carry_out(record, grounds, teller)


def _prepare(preparation: Preparation, teller: _Teller) -> Record:
    try:
        record = preparation.run()
        teller.heed("")
    except OSError as error:
        preparation.discard()
        raise _refused(error) from error
    except BaseException:
        preparation.discard()
        raise
    return record


def _begin(preparation: Preparation, record: Record, grounds: Mapping[str, Ground]) -> None:
    try:
        for ground in grounds.values():
            ground.check_identity()
            put_mark(ground, f"{record.folder}/marks", record.id, "begun")
    except (OSError, CardError) as error:
        states = [read_state(ground, f"{record.folder}/marks", record.id) for ground in grounds.values()]
        # What cannot be read any more may say `begun`: then it is for a recovery to find out.
        if set(states) != {"prepared"}:
            raise _unfinished(record, error) from error
        preparation.discard()
        raise (_refused(error) if isinstance(error, OSError) else error) from error


def _carry_out(record: Record, grounds: Mapping[str, Ground], teller: _Teller) -> Change:
    reports: list[str] = []
    settlings = []
    try:
        for ground in grounds.values():
            settling = Settling(ground, record, standing_at_start(record, ground))
            settling.run(forward=True, tick=partial(_step, ground, teller))
            set_orders(settling, forward=True, always=True)
            settling.check()
            settlings.append(settling)
            reports += settling.reports
        for ground in grounds.values():
            put_mark(ground, f"{record.folder}/marks", record.id, "done")
    except UnfinishedChangeError:
        raise
    except (OSError, CardError) as error:
        raise _unfinished(record, error) from error
    for settling in settlings:
        reports += tidy(settling, forward=True)
        reports += hand_over(settling.ground, record)
    return _describe(record, grounds, reports)


def _step(ground: Ground, teller: _Teller) -> None:
    ground.check_identity()
    teller.tell("")


def standing_at_start(record: Record, ground: Ground) -> Standing:
    """Where everything stands when a change has begun: as it was, and what is new in `stage/`."""
    things = record.of_volume(ground.role)
    where: dict[int, Location | None] = {
        thing.id: thing.initial or Location(OWN, f"stage/{thing.id}") for thing in things
    }
    return Standing(where, {thing.id for thing in things if thing.is_kept})


def _describe(record: Record, grounds: Mapping[str, Ground], reports: list[str]) -> Change:
    kept = sum(
        size_below(ground, f"{record.folder}/{name}")
        for ground in grounds.values()
        for name in ("kept", "kept.pack", "doubles")
    )
    return Change(
        number=record.number,
        id=record.id,
        title=record.title,
        time=record.time,
        state="done",
        volumes=tuple(record.volumes),
        bytes_kept=kept,
        undoes=record.undoes,
        notes=(*record.notes, *reports),
        kept_on=tell_keep(record),
    )


class _Teller:
    """Counts the work, tells of it, and asks whether to go on."""

    def __init__(self, progress: Progress | None, cancelled: Callable[[], bool] | None) -> None:
        self.progress = progress
        self.cancelled = cancelled
        self.done = 0
        self.total = 0

    def heed(self, words: str) -> None:
        """Before the change has begun."""
        if self.cancelled is not None and self.cancelled():
            raise CancelledError("stopped before anything was written; nothing was changed")
        self.tell(words)

    def tell(self, words: str) -> None:
        if self.progress is not None:
            self.progress(shown(words), self.done, self.total)
        self.done += 1


def _refused(error: OSError) -> PreflightError:
    return PreflightError(
        f"the change could not be prepared: {explain(error)}. Nothing was changed on the card."
    )


def _unfinished(record: Record, error: Exception) -> UnfinishedChangeError:
    why = explain(error) if isinstance(error, OSError) else str(error)
    return UnfinishedChangeError(
        f"change {record.number} ({shown(record.title)}) began and did not end: {why}. Everything that it "
        "replaces is kept. Run `cardwright recover` to finish it or to take it back."
    )

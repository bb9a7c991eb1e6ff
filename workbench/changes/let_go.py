"""Lets go of kept copies: what finished changes replaced or took away goes for good, by an explicit wish.

A change is marked on each of its volumes before its first copy goes, so it is either whole or said to be let
go. Its record stays: what needs no copy (moves, a manifest's own edits) can still be taken back.
"""

from __future__ import annotations

import contextlib
import itertools
from collections.abc import Callable, Container, Iterator, Mapping, Sequence

from workbench.card.paths import VolumePath
from workbench.card.read_only import judge_read_only
from workbench.card.volumes import Card
from workbench.changes.ground import Ground, explain, kind_of
from workbench.changes.ledger import (
    CHANGES,
    Book,
    Entered,
    count_kept,
    is_let_go,
    list_changes,
    open_grounds,
    read_grounds,
    tell_keep,
)
from workbench.changes.lock import hold_volumes
from workbench.changes.marks import put_mark
from workbench.changes.opening_up import refuse_unasked
from workbench.changes.plan_needs import find_needed
from workbench.changes.record import Record
from workbench.changes.tidy import refuse_unfinished
from workbench.changes.undo import count_parts
from workbench.errors import CardwrightError, LedgerError, PreflightError
from workbench.shown import shown
from workbench.values import dataclass

Choice = Callable[[Sequence[Record]], Sequence[Record]]
"""Which of the finished changes, oldest first."""


@dataclass(frozen=True, slots=True)
class Farewell:
    """One change whose kept copies are to go."""

    number: int
    id: str
    title: str
    bytes_freed: int
    undone_by: int | None
    lost: tuple[VolumePath, ...]
    """Places whose old content cannot be had again."""
    remains: bool
    """Whether a part of it can be taken back all the same."""
    volumes: tuple[str, ...] = ()

    @property
    def consequence(self) -> str:
        """What it means for undo, for a person."""
        if not self.lost:
            return "it can still be taken back: it moved names and edited manifests only"
        places = ", ".join(shown(str(place)) for place in self.lost[:3])
        more = f" and {len(self.lost) - 3} more" if len(self.lost) > 3 else ""
        if self.remains:
            return f"it can then be taken back in part only, without {places}{more}"
        return f"it can then not be taken back any more ({places}{more})"


@dataclass(frozen=True, slots=True)
class LettingGo:
    """What would go, shown before it is agreed to."""

    card: Card
    farewells: tuple[Farewell, ...]
    passed_over: tuple[tuple[int, str], ...] = ()
    """Numbers of changes that were asked for and keep their copies, and why."""

    @property
    def bytes_freed(self) -> int:
        """In all."""
        return sum(one.bytes_freed for one in self.farewells)

    @property
    def title(self) -> str:
        """For a person."""
        numbers = ", ".join(str(one.number) for one in self.farewells)
        return f"Let go of the kept copies of change{'s' if len(self.farewells) != 1 else ''} {numbers}"


def plan_letting_go(card: Card, choose: Choice, *, enough: int | None = None) -> LettingGo:
    """What would go if these changes let go of their kept copies; nothing is written.

    `enough`: bytes, oldest changes first; no more than needed for that go.

    Raises:
        LedgerError: nothing that was chosen keeps anything.
    """
    with open_grounds(card.present) as grounds:
        book = read_grounds(grounds)
        chosen = choose(tuple(one.record for one in book.entered.values()))
        needed = find_needed(card)
        farewells: list[Farewell] = []
        passed_over: list[tuple[int, str]] = []
        for record in chosen:
            if enough is not None and sum(one.bytes_freed for one in farewells) >= enough:
                break
            why = _find_hindrance(book.entered[record.id], grounds, needed)
            if why is None:
                farewells.append(_describe(book, record, grounds))
            else:
                passed_over.append((record.number, why))
    if not farewells:
        raise _nothing(passed_over)
    return LettingGo(card, tuple(farewells), tuple(passed_over))


def let_go(letting_go: LettingGo) -> int:
    """Remove the kept copies; returns the bytes freed. What was cut off is finished by the next call.

    Raises:
        PreflightError: a volume is read-only or the card changed since; nothing was removed.
        UnfinishedChangeError: a change is unfinished; its recovery may need what is kept.
        LedgerError: a copy could not be removed; which changes were let go is marked.
    """
    card = letting_go.card
    roles = dict.fromkeys(role for one in letting_go.farewells for role in one.volumes)
    _refuse_read_only(card, roles)
    with (
        open_grounds([card.volume(role) for role in roles]) as grounds,
        hold_volumes(grounds.values()),
    ):
        refuse_unfinished(card, grounds)
        _refuse_changed(letting_go, grounds)
        for ground in grounds.values():
            finish_letting_go(ground, besides={one.id for one in letting_go.farewells})
        for one in letting_go.farewells:
            _let_go_of(one, grounds)
    return letting_go.bytes_freed


def finish_letting_go(ground: Ground, besides: Container[str]) -> None:
    """Remove what was left of copies of other changes when letting go of them was cut off."""
    for change in list_changes(ground):
        is_left = change not in besides and count_kept(ground, change) > 0
        if is_left and is_let_go(ground, change):
            with contextlib.suppress(OSError):
                _remove_copies(ground, change)


def choose_named(names: Sequence[int | str | range]) -> Choice:
    """These changes, by number, id or range of numbers (of a range, those that there are).

    Raises (when it chooses):
        LedgerError: there is no such change, or two of one number.
    """

    def choose(records: Sequence[Record]) -> list[Record]:
        chosen: list[Record] = []
        for name in dict.fromkeys(names):
            if isinstance(name, range):
                chosen += [record for record in records if record.number in name]
            else:
                chosen.append(_find(records, name))
        return [record for record in records if record in chosen]

    return choose


def choose_before(number: int) -> Choice:
    """Those with a lower number."""
    return lambda records: [record for record in records if record.number < number]


def choose_all_but(count: int) -> Choice:
    """All but the last so many."""
    return lambda records: list(records[: max(0, len(records) - count)])


def choose_all(records: Sequence[Record]) -> Sequence[Record]:
    """Every one."""
    return records


def choose_older(days: int) -> Choice:
    """The first ones, up to the first that was made less than so many days ago.

    By the clocks of the computers that wrote them. Those may have been wrong, so a change never goes before
    one with a lower number.
    """

    def choose(records: Sequence[Record]) -> list[Record]:
        import time

        limit = time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(time.time() - days * 86400))
        return list(itertools.takewhile(lambda record: record.time < limit, records))

    return choose


def _find(records: Sequence[Record], name: int | str) -> Record:
    found = [record for record in records if name in (record.number, record.id)]
    if len(found) == 1:
        return found[0]
    if not found:
        raise LedgerError(f"the card's ledger has no change {name} that can be read; nothing was removed")
    ids = " or ".join(f"{one.id} ({shown(one.title)})" for one in found)
    raise LedgerError(
        f"two changes of this card bear the number {name}; nothing was removed. Name the one you mean by its "
        f"id: {ids}."
    )


def _find_hindrance(entered: Entered, grounds: Mapping[str, Ground], needed: Mapping[str, str]) -> str | None:
    record = entered.record
    if entered.state not in ("done", "back"):
        return "it is not finished, and its recovery needs what is kept"
    away = [role for role in record.volumes if role not in entered.states]
    if away:
        return f"its volume {shown(away[0])} is not here"
    if record.id in needed:
        return needed[record.id]
    if not sum(count_kept(grounds[role], record.id) for role in entered.states):
        if entered.let_go:
            return "its copies were let go before"
        keep = tell_keep(record)
        return f"they lie in {shown(keep)} and not on the card" if keep else "it keeps nothing"
    return None


def _describe(book: Book, record: Record, grounds: Mapping[str, Ground]) -> Farewell:
    roles = tuple(role for role in record.volumes if count_kept(grounds[role], record.id))
    stands = book.entered[record.id].state == "done"
    lost = tuple(_list_lost(record)) if stands else ()
    return Farewell(
        number=record.number,
        id=record.id,
        title=record.title,
        bytes_freed=sum(count_kept(grounds[role], record.id) for role in roles),
        undone_by=book.undone_by(record.id),
        lost=lost,
        remains=count_parts(record) > len(lost),
        volumes=roles,
    )


def _list_lost(record: Record) -> Iterator[VolumePath]:
    """Places of what only the kept copies can bring back."""
    for thing in record.things:
        if thing.is_new or thing.initial is None:
            continue
        is_edited = thing.replaced_by is not None and thing.replaced_by in record.spans
        is_taken = thing.final is None or thing.final == thing.rest
        if is_taken and not is_edited:
            yield record.place(thing.volume, thing.initial, at_end=False)


def _nothing(passed_over: Sequence[tuple[int, str]]) -> CardwrightError:
    if not passed_over:
        return LedgerError("no change of this card was chosen; nothing was removed")
    number, why = passed_over[0]
    more = f" ({len(passed_over) - 1} more changes keep theirs too.)" if len(passed_over) > 1 else ""
    return LedgerError(f"nothing was removed: change {number} has no copies to let go, as {why}.{more}")


def _refuse_read_only(card: Card, roles: Mapping[str, None]) -> None:
    for role in roles:
        if card.volume(role).read_only:
            refuse_unasked(judge_read_only(card, role))


def _refuse_changed(letting_go: LettingGo, grounds: Mapping[str, Ground]) -> None:
    """What was agreed to has to be what there is; a plan that waits since then counts too."""
    needed = find_needed(letting_go.card)
    for one in letting_go.farewells:
        kept = sum(count_kept(grounds[role], one.id) for role in one.volumes)
        if kept != one.bytes_freed or one.id in needed:
            raise PreflightError(
                f"what change {one.number} keeps is not what was shown; nothing was removed. Look again."
            )


def _let_go_of(one: Farewell, grounds: Mapping[str, Ground]) -> None:
    try:
        for role in one.volumes:
            if not is_let_go(grounds[role], one.id):
                grounds[role].check_identity()
                put_mark(grounds[role], f"{CHANGES}/{one.id}/marks", one.id, "let-go")
        for role in one.volumes:
            _remove_copies(grounds[role], one.id)
    except OSError as error:
        raise LedgerError(
            f"the kept copies of change {one.number} could not be removed: {explain(error)}. Those of "
            "the changes named after it are still there; try again to remove the rest."
        ) from error


def _remove_copies(ground: Ground, change: str) -> None:
    """The folder `kept` itself stays: an undo that is taken back puts things there again."""
    folder = f"{CHANGES}/{change}"
    if ground.lstat(f"{folder}/kept.pack") is not None:
        ground.remove_file(f"{folder}/kept.pack")
    if ground.lstat(f"{folder}/kept") is not None:
        for name in ground.names(f"{folder}/kept"):
            remove_tree(ground, f"{folder}/kept/{name}")
        ground.sync_folder(f"{folder}/kept")
    ground.sync_folder(folder)


def remove_tree(ground: Ground, path: str) -> None:
    """A copy of ours and all below it; a link goes as a link.

    Raises:
        OSError: the card refused; what is left can be removed again.
    """
    found = ground.lstat(path)
    if found is None:
        return
    if kind_of(found) != "folder":
        ground.remove_file(path)
        return
    for name in ground.names(path):
        remove_tree(ground, f"{path}/{name}")
    ground.remove_folder(path)

"""Owns `.cardwright/` on each volume: its id, its changes and what they kept. Plain files, no database.

Damage to one change never hides another. Order goes by number: clocks on devices lie.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Mapping

from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.volumes import Card
from workbench.changes.change_list import CHANGES as CHANGES
from workbench.changes.change_list import RECENT as RECENT
from workbench.changes.change_list import list_changes as list_changes
from workbench.changes.change_list import number_of as number_of
from workbench.changes.change_list import open_grounds as open_grounds
from workbench.changes.ground import Ground, explain, kind_of
from workbench.changes.marks import State, has_remark, read_state
from workbench.changes.record import Record, read_record
from workbench.errors import LedgerError
from workbench.manifests.toml_reader import read_toml
from workbench.typed import TYPE_CHECKING
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.changes.kept import KeptVersion

VOLUME_FILE = f"{LEDGER_FOLDER}/volume.toml"


@dataclass(frozen=True, slots=True)
class Change:
    """A plan that was applied."""

    number: int
    id: str
    title: str
    time: str
    state: State
    """`done` or `back` when it came to an end; `begun` or `prepared` where it did not."""
    volumes: tuple[str, ...]
    bytes_kept: int
    """Bytes that its kept copies hold on the volumes that are here."""
    undoes: tuple[str, ...] = ()
    undone_by: int | None = None
    """The number of the change that took it back, if one did and still stands."""
    notes: tuple[str, ...] = ()
    let_go: bool = False
    """Whether its kept copies were let go, so that it can be taken back in part at most."""
    kept_on: str = ""
    """The folder on the computer that wrote it where its copies are kept, the card having been too full."""

    @property
    def is_keep_here(self) -> bool:
        """Whether that folder is there, on this computer."""
        return os.path.isdir(self.kept_on)


@dataclass(frozen=True, slots=True)
class Damaged:
    """A change that cannot be read: a finding."""

    volume: str
    id: str
    because: str


@dataclass(frozen=True, slots=True)
class Entered:
    """One change as the volumes that are here have it."""

    record: Record
    states: Mapping[str, State | None]
    """By role, for the volumes where it was found; None where the marks cannot be read."""
    let_go: bool = False
    """Whether some volume here says that its kept copies were let go."""

    @property
    def state(self) -> State:
        """Of the whole: done or back only where every volume here says so."""
        found = set(self.states.values())
        if len(found) == 1 and None not in found:
            return next(state for state in found if state is not None)
        return "begun" if found != {"prepared", None} else "prepared"


@dataclass(slots=True)
class Book:
    """Every change found on a card."""

    entered: dict[str, Entered] = field(default_factory=dict)
    """By id, in the order of their numbers."""
    damaged: list[Damaged] = field(default_factory=list)
    bytes_kept: dict[str, int] = field(default_factory=dict)

    @property
    def done(self) -> tuple[Record, ...]:
        """The changes that stand, undos among them, in order."""
        return tuple(one.record for one in self.entered.values() if one.state == "done")

    def undone_by(self, change: str) -> int | None:
        """The number of the standing change that took this one back."""
        for record in reversed(self.done):
            if change in record.undoes and self.undone_by(record.id) is None:
                return record.number
        return None


def read_history(card: Card) -> tuple[Change, ...]:
    """The changes on the volumes that are here, oldest first. Damaged ones are `find_damaged`'s."""
    book = read_book(card)
    return tuple(describe_change(book, one) for one in book.entered.values())


def kept_versions(card: Card, at: VolumePath) -> tuple[KeptVersion, ...]:
    """Every earlier content of the file at that place, oldest first; see `kept`."""
    from workbench.changes.kept import kept_versions as find

    return find(card, at)


def find_damaged(card: Card) -> tuple[Damaged, ...]:
    """Changes in the ledger that cannot be read."""
    return tuple(read_book(card).damaged)


def describe_change(book: Book, one: Entered) -> Change:
    """A change as history shows it."""
    record = one.record
    return Change(
        number=record.number,
        id=record.id,
        title=record.title,
        time=record.time,
        state=one.state,
        volumes=tuple(record.volumes),
        bytes_kept=book.bytes_kept.get(record.id, 0),
        undoes=record.undoes,
        undone_by=book.undone_by(record.id),
        notes=record.notes,
        let_go=one.let_go,
        kept_on=tell_keep(record),
    )


def tell_keep(record: Record) -> str:
    """The folder on the host that holds a change's copies; empty where the card keeps them."""
    return next((os.path.dirname(keep.folder) for keep in record.kept_on.values()), "")


def is_let_go(ground: Ground, change: str) -> bool:
    """Whether a change's kept copies were let go on that volume, wholly or until that was cut off."""
    return has_remark(ground, f"{CHANGES}/{change}/marks", change, "let-go")


def last_number(card: Card) -> int:
    """The highest number that a change on any volume of the card bears; 0 where there is none.

    Numbers go by card, not by volume: two changes on two volumes never bear one number.
    """
    with open_grounds(card.present) as grounds:
        ids = [list_changes(ground) for ground in grounds.values()]
    return max((number_of(one[-1]) for one in ids if one), default=0)


def read_book(card: Card) -> Book:
    """Every change on the volumes that are here."""
    with open_grounds(card.present) as grounds:
        return read_grounds(grounds)


def read_grounds(grounds: Mapping[str, Ground], *, open_only: bool = False) -> Book:
    """Every change on these volumes; or only those, among the last few, that are not at an end."""
    states = _read_states(grounds, RECENT if open_only else None)
    book = Book()
    for change in sorted(states, key=lambda one: (number_of(one), one)):
        if open_only and all(state in ("done", "back") for state in states[change].values()):
            continue
        record = _load_from_any(grounds, change, states[change], book)
        if record is not None:
            let_go = any(is_let_go(grounds[role], change) for role in states[change])
            book.entered[change] = Entered(record, states[change], let_go)
            if not open_only:
                kept = (_count_kept(grounds[role], record) for role in states[change])
                book.bytes_kept[change] = sum(kept)
    return book


States = dict[str, dict[str, State | None]]
"""What each volume says of each change: by id, then by role."""


def _read_states(grounds: Mapping[str, Ground], last: int | None) -> States:
    states: States = {}
    for role, ground in grounds.items():
        ids = list_changes(ground)
        for change in ids if last is None else ids[-last:]:
            state = read_state(ground, f"{CHANGES}/{change}/marks", change)
            states.setdefault(change, {})[role] = state
    _infer_ends(states)
    return states


def _infer_ends(states: States) -> None:
    """An unfinished change blocks all others, so one with a later one behind it had ended, whatever its marks
    say by now."""
    ended: dict[str, int] = {}
    for change, found in states.items():
        for role, state in found.items():
            if state in ("done", "back"):
                ended[role] = max(ended.get(role, 0), number_of(change))
    for change, found in states.items():
        for role, state in found.items():
            if state in ("begun", None) and ended.get(role, 0) > number_of(change):
                found[role] = "done"


def _load_from_any(
    grounds: Mapping[str, Ground], change: str, states: Mapping[str, State | None], book: Book
) -> Record | None:
    """The record from the first volume where it is whole; each that is not is noted as damaged."""
    found: Record | None = None
    for role, state in states.items():
        try:
            found = found or load_record(grounds[role], change)
        except LedgerError as error:
            if state != "prepared":  # torn while it was written: it never began
                book.damaged.append(Damaged(role, change, error.message))
    return found


def load_record(ground: Ground, change: str) -> Record:
    """One change's plan.json.

    Raises:
        LedgerError: it is missing, torn or damaged.
    """
    path = f"{CHANGES}/{change}/plan.json"
    at = f"{ground.role}:{path}"
    try:
        raw = ground.read(path)
    except OSError as error:
        raise LedgerError(f"the record {at} cannot be read: {explain(error)}", path=at) from error
    try:
        record = read_record(raw, at)
    except (ValueError, KeyError, TypeError, IndexError) as error:
        raise LedgerError(f"the record {at} is damaged; it was left as it is", path=at) from error
    if record.id != change:
        raise LedgerError(f"the record {at} belongs to another change", path=at)
    return record


def read_volume_id(ground: Ground) -> str | None:
    """The volume's own id, or None where it has no ledger yet.

    Raises:
        LedgerError: the file that holds it cannot be understood.
    """
    try:
        raw = ground.read(VOLUME_FILE)
    except OSError:
        return None
    try:
        return str(read_toml(raw.decode("utf-8"))["id"])
    except (ValueError, KeyError) as error:
        at = f"{ground.role}:{VOLUME_FILE}"
        raise LedgerError(
            f"{at} is damaged, so it is not certain which volume this is; nothing was changed. "
            "Its changes can still be listed with `history`.",
            path=at,
        ) from error


def _count_kept(ground: Ground, record: Record) -> int:
    return sum(size_below(ground, f"{record.folder}/{name}") for name in ("kept", "kept.pack", "doubles"))


def count_kept(ground: Ground, change: str) -> int:
    """Bytes of one change's copies on a volume that letting go would free.

    Not `doubles`: after a power cut the files in it may share clusters with what the device reads.
    """
    return sum(size_below(ground, f"{CHANGES}/{change}/{name}") for name in ("kept.pack", "kept"))


def count_releasable(ground: Ground) -> int:
    """Bytes that letting go of every finished change's copies would free on a volume."""
    finished = [
        change
        for change in list_changes(ground)
        if read_state(ground, f"{CHANGES}/{change}/marks", change) in ("done", "back")
    ]
    return sum(count_kept(ground, change) for change in finished)


def size_below(ground: Ground, path: str) -> int:
    """Bytes of the files at and below a path; 0 where nothing is."""
    found = ground.lstat(path)
    if found is None:
        return 0
    if kind_of(found) != "folder":
        return found.st_size if kind_of(found) == "file" else 0
    with contextlib.suppress(OSError):
        return sum(size_below(ground, f"{path}/{name}") for name in ground.names(path))
    return 0


class Trail:
    """Where one change took things."""

    def __init__(self, record: Record) -> None:
        self.record = record
        self._starts = {
            record.place(thing.volume, thing.initial, at_end=False): thing
            for thing in record.things
            if thing.initial is not None
        }

    def follow(self, at: VolumePath) -> VolumePath:
        """Where what stood at a place before the change stands after it (in the ledger, if taken away)."""
        here, rest = at, ""
        while True:
            thing = self._starts.get(here)
            if thing is not None:
                standing = self.record.thing(thing.replaced_by) if thing.replaced_by else thing
                end = self.record.place(thing.volume, standing.goal(forward=True), at_end=True)
                return end.child(rest) if rest else end
            if not here.path:
                return at
            rest = f"{here.name}/{rest}" if rest else here.name
            here = here.parent

"""What packs brought to a card, as its ledger tells, and what else was changed since its first change.

Places are followed through later changes: a file is told where it stands by now.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.ledger import Book, Trail, read_book
from workbench.changes.plan import Pack
from workbench.changes.record import Record
from workbench.changes.touched import Touched
from workbench.errors import LedgerError
from workbench.shown import shown
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class BroughtPack:
    """A pack that stands on the card."""

    pack: Pack
    number: int
    """Of the change that added it."""
    change: str
    """That change's id."""
    time: str
    is_alone: bool
    """Whether the change did nothing else, but for putting away what the device makes again by itself."""
    files: Mapping[VolumePath, str]
    """Where each file that it wrote stands by now, with the SHA-256 of what it left there."""
    entries: tuple[VolumePath, ...] = ()
    """Where the entries that it registered stand by now."""
    places: frozenset[VolumePath] = frozenset()
    """Where everything that its own steps wrote or made stands by now."""


@dataclass(frozen=True, slots=True)
class Traces:
    """What the ledger knows of the files on a card."""

    packs: tuple[BroughtPack, ...]
    """Those that stand, oldest first."""
    touched: Mapping[VolumePath, str]
    """Files that changes other than packs wrote, with the title of the last one."""

    def name_of(self, at: VolumePath, sha256: str) -> str:
        """The name of the latest standing pack that left a file as it is now; empty where none did."""
        found = self.pack_of(at, sha256)
        return found.pack.name if found is not None else ""

    def pack_of(self, at: VolumePath, sha256: str) -> BroughtPack | None:
        """The latest standing pack that left a file as it is now."""
        return next((one for one in reversed(self.packs) if one.files.get(at) == sha256), None)

    def author_of(self, at: VolumePath) -> str:
        """In words, whose change a file holds; empty where the ledger knows of none."""
        if at in self.touched:
            return f"changed by {shown(self.touched[at])!r}"
        packs = [one.pack.name for one in self.packs if at in one.files]
        return f"edited since the pack {shown(packs[-1])} put it there" if packs else ""


NO_TRACES = Traces((), {})


def read_traces(card: Card) -> Traces:
    """Every standing pack, and what other changes touched."""
    book = read_book(card)
    done = list(book.done)
    trails = [Trail(record) for record in done]
    packs, touched = [], {}
    for number, record in enumerate(done):
        files = find_left(record, trails[number + 1 :])
        if is_standing_pack(book, record):
            later = trails[number + 1 :]
            packs += [_describe(record, pack, files, later) for pack in record.brought]
        elif not record.brought and not record.undoes and book.undone_by(record.id) is None:
            touched.update(dict.fromkeys(files, record.title))
    return Traces(tuple(packs), touched)


def find_pack(traces: Traces, name: str) -> BroughtPack:
    """The standing pack that a person means: by its name, or by the number or id of its change.

    Raises:
        LedgerError: there is none, or there are two.
    """
    found = [one for one in traces.packs if name in (one.pack.name, str(one.number), one.change)]
    found = found or [one for one in traces.packs if one.pack.name.casefold() == name.casefold()]
    if len(found) == 1:
        return found[0]
    known = ", ".join(f"{shown(one.pack.name)} (change {one.number})" for one in traces.packs) or "none"
    if found:
        raise LedgerError(
            f"more than one pack is called {shown(name)!r}; nothing was changed. Name it by the number of "
            f"its change. The packs on this card: {known}."
        )
    raise LedgerError(
        f"there is no pack {shown(name)!r} on this card; nothing was changed. The packs on it: {known}."
    )


def is_standing_pack(book: Book, record: Record) -> bool:
    """Whether a change added packs and was not taken back."""
    return bool(record.brought) and book.undone_by(record.id) is None


def find_left(record: Record, later: list[Trail]) -> dict[VolumePath, str]:
    """Files that a change wrote, where they stand after the later changes, with their SHA-256."""
    hashes = {step["at"]: step["sha256"] for step in record.steps if step["step"] == "write"}
    found = {}
    for thing in record.things:
        if not thing.is_new or thing.kind != "file" or thing.final is None:
            continue
        left = record.place(thing.volume, thing.final, at_end=True)
        place = left
        for trail in later:
            place = trail.follow(place)
        if not place.is_in_ledger:
            found[place] = hashes.get(str(left)) or hash_in(thing)
    return found


def hash_in(thing: Touched) -> str:
    """The SHA-256 in a file's fingerprint; empty for one too large to be hashed whole."""
    kind, _, rest = thing.fingerprint.partition(":")
    return rest.partition(":")[2] if kind == "file" else ""


def _describe(record: Record, pack: Pack, files: Mapping[VolumePath, str], later: list[Trail]) -> BroughtPack:
    own = record.steps[pack.start : pack.start + pack.steps]
    others = (*record.steps[: pack.start], *record.steps[pack.start + pack.steps :])
    written = {_place(str(step["at"])) for step in own}
    put_away = [_place(str(step["at"])) for step in others if step["step"] == "remove"]
    is_apart = not any(one in written or _is_near(one, written) for one in put_away)
    places = frozenset(_follow(one, later) for one in written)
    return BroughtPack(
        pack,
        record.number,
        record.id,
        record.time,
        len(put_away) == len(others) and is_apart,
        {at: sha256 for at, sha256 in files.items() if at in places},
        tuple(_follow(_place(one), later) for one in pack.entries),
        places,
    )


def _follow(at: VolumePath, later: list[Trail]) -> VolumePath:
    for trail in later:
        at = trail.follow(at)
    return at


def _is_near(at: VolumePath, places: Iterable[VolumePath]) -> bool:
    """Whether a place lies in one of these, or holds one."""
    return any(at.is_below(one) or one.is_below(at) for one in places)


def _place(text: str) -> VolumePath:
    volume, _, path = text.partition(":")
    return VolumePath(volume, path)

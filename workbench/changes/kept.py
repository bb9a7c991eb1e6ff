"""What the ledger keeps of one file: every earlier content, to be looked at or put back."""

from __future__ import annotations

from collections.abc import Sequence

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.ground import Ground
from workbench.changes.handing_over import find_handed, is_handed_over
from workbench.changes.host_keep import read_pieces
from workbench.changes.ledger import Trail, open_grounds, read_book
from workbench.changes.record import Record
from workbench.changes.remake import read_copy
from workbench.changes.touched import Touched
from workbench.errors import LedgerError
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class KeptVersion:
    """One earlier content of a file."""

    number: int
    """Of the change that replaced it."""
    title: str
    time: str
    size: int
    sha256: str
    """Hex; empty for a file too large to be hashed whole."""
    card: Card
    record: Record
    thing: Touched
    let_go: bool = False
    """Whether the copy was let go, so that only its name is left."""

    def read(self) -> bytes:
        """The bytes, checked.

        Raises:
            LedgerError: the copy is damaged or was let go.
        """
        if self.let_go:
            raise LedgerError(f"what change {self.number} kept of it was let go, so it cannot be had again")
        with open_grounds([self.card.volume(self.thing.volume)]) as grounds:
            return read_kept(grounds[self.thing.volume], self.record, self.thing)


def kept_versions(card: Card, at: VolumePath) -> tuple[KeptVersion, ...]:
    """Every earlier content of the file at that place, oldest first, found under its earlier names too."""
    book = read_book(card)
    trails = [Trail(record) for record in book.done]
    found = []
    for number, trail in enumerate(trails):
        record = trail.record
        for thing in record.of_volume(at.volume):
            if thing.kind == "file" and _is_taken_away(thing) and _was_at(thing, trails[number:], at):
                found.append(_describe(card, record, thing, let_go=book.entered[record.id].let_go))
    return tuple(found)


def read_kept(ground: Ground, record: Record, thing: Touched) -> bytes:
    """The kept content of a file that a change replaced or removed.

    Raises:
        LedgerError: it is not there any more, or damaged.
    """
    if thing.copy in ("pack", "host"):
        return read_copy(ground, record, thing)
    if thing.id in find_handed(record, ground.role) and is_handed_over(ground, record):
        return b"".join(read_pieces(record, ground.role, thing.id))
    try:
        return ground.read(f"{record.folder}/kept/{thing.id}")
    except OSError as error:
        raise LedgerError(f"what change {record.number} kept of it is not there any more") from error


def _is_taken_away(thing: Touched) -> bool:
    return not thing.is_new and (thing.final is None or thing.final == thing.rest)


def _was_at(thing: Touched, trails: Sequence[Trail], at: VolumePath) -> bool:
    assert thing.initial is not None
    place = trails[0].record.place(thing.volume, thing.initial, at_end=False)
    if place == at:
        return True
    for trail in trails:
        place = trail.follow(place)
    return place == at


def _describe(card: Card, record: Record, thing: Touched, *, let_go: bool) -> KeptVersion:
    kind, size, sha256 = thing.fingerprint.split(":")
    return KeptVersion(
        record.number,
        record.title,
        record.time,
        int(size),
        sha256 if kind == "file" else "",
        card,
        record,
        thing,
        let_go,
    )

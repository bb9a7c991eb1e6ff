"""What the ledger says of a card's health: an unfinished change, and copies that cannot be had any more.

Only looks. Copies are hashed up to a number of bytes, the latest changes first; what lies beyond is only
looked for by name.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping

from workbench.card.health import KeptFault, LedgerHealth, OwnEdit
from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.volumes import Card
from workbench.changes.fingerprint import take_fingerprint
from workbench.changes.ground import Ground
from workbench.changes.kept import read_kept
from workbench.changes.ledger import Book, open_grounds, read_grounds
from workbench.changes.record import Record
from workbench.changes.recover import find_unfinished
from workbench.changes.touched import Touched
from workbench.errors import CardwrightError, LedgerError

HASHED_BYTES = 32 * 1024 * 1024
"""Bytes of kept copies that are hashed where nobody asked for all."""
_GONE = "the copy is not there any more, or damaged: that change cannot be taken back whole"


def glance_at_ledger(card: Card) -> LedgerHealth:
    """The same at a glance: whether a change is unfinished, and how much is kept. No copy is looked at."""
    if not _has_ledger(card):
        return LedgerHealth()
    unfinished = find_unfinished(card)
    words = "" if unfinished is None else f"change {unfinished.number} ({unfinished.title})"
    with open_grounds(card.present) as grounds:
        return LedgerHealth(words, kept_bytes=sum(read_grounds(grounds).bytes_kept.values()))


def _has_ledger(card: Card) -> bool:
    return any(os.path.lexists(volume.root / LEDGER_FOLDER) for volume in card.present)


def read_ledger_health(card: Card, *, is_thorough: bool = False) -> LedgerHealth:
    """What the ledgers of the volumes that are here say.

    Args:
        is_thorough: hash every kept copy, however many there are.
    """
    if not _has_ledger(card):
        return LedgerHealth()
    unfinished = find_unfinished(card)
    words = "" if unfinished is None else f"change {unfinished.number} ({unfinished.title})"
    with open_grounds(card.present) as grounds:
        book = read_grounds(grounds)
        damaged = [KeptFault(VolumePath(one.volume, ""), None, one.because) for one in book.damaged]
        faults = (
            [] if unfinished else list(_find_faults(book, grounds, None if is_thorough else HASHED_BYTES))
        )
        return LedgerHealth(
            words, (*damaged, *faults), tuple(_list_edits(book)), sum(book.bytes_kept.values())
        )


def _find_faults(book: Book, grounds: Mapping[str, Ground], left: int | None) -> Iterator[KeptFault]:
    for record in reversed(book.done):
        if book.entered[record.id].let_go or book.undone_by(record.id) is not None:
            continue
        for thing in record.things:
            ground = grounds.get(thing.volume)
            if ground is None or not _is_kept(thing, record):
                continue
            size = _size_of(thing)
            is_hashed = left is None or size <= left
            if left is not None and is_hashed:
                left -= size
            if not _is_whole(ground, record, thing, is_hashed=is_hashed):
                assert thing.initial is not None
                at = record.place(thing.volume, thing.initial, at_end=False)
                yield KeptFault(at, record.number, _GONE)


def _is_kept(thing: Touched, record: Record) -> bool:
    """Whether the change keeps it here for good: a file that was replaced, or anything that was removed."""
    is_taken = not thing.is_new and (thing.final is None or thing.final == thing.rest)
    is_away = thing.copy == "host" or thing.volume in record.kept_on
    return is_taken and not is_away and thing.kind != "other"


def _size_of(thing: Touched) -> int:
    kind, _, rest = thing.fingerprint.partition(":")
    size = rest.partition(":")[0]
    return int(size) if kind in ("file", "large") and size.isdecimal() else 0


def _is_whole(ground: Ground, record: Record, thing: Touched, *, is_hashed: bool) -> bool:
    try:
        if thing.copy == "pack":
            if is_hashed:
                read_kept(ground, record, thing)
            return True
        path = f"{record.folder}/kept/{thing.id}"
        if not is_hashed:
            return ground.lstat(path) is not None
        found = take_fingerprint(ground, path)
    except (LedgerError, OSError, CardwrightError):
        return False
    # What a folder holds may have come from elsewhere in the same change: that it is there has to do.
    return found is not None and (thing.kind == "folder" or found == thing.fingerprint)


def _list_edits(book: Book) -> Iterator[OwnEdit]:
    """What changes gave files, the last change of each first."""
    seen: set[VolumePath] = set()
    for record in reversed(book.done):
        for thing in record.things:
            word, _, rest = thing.fingerprint.partition(":")
            if not thing.is_new or thing.final is None or word != "file":
                continue
            at = record.place(thing.volume, thing.final, at_end=True)
            if at not in seen:
                seen.add(at)
                yield OwnEdit(at, record.number, rest.partition(":")[2])

"""Reads back what changes left on a card, past what the system remembers of it, and compares it by hash.

What was read back whole on this computer is not read again: the last change that was is noted in the user's
state folder for each volume. Clocks take no part.
"""

from __future__ import annotations

import contextlib
import json
import mmap
import os
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.changes.fingerprint import WHOLE_BYTES, fingerprint_file
from workbench.changes.ground import Ground, explain, kind_of
from workbench.changes.ledger import Book, Trail, list_changes, number_of, read_grounds, read_volume_id
from workbench.changes.record import Record
from workbench.changes.touched import Touched
from workbench.errors import CardwrightError
from workbench.host.folders import state_folder
from workbench.host.safe_write import HostWriteError, write_safely
from workbench.values import dataclass, field

_CHUNK = 1024 * 1024
Progress = Callable[[str, int, int], None]
"""Told what is being done, how much of it is, and how much there is."""


@dataclass(frozen=True, slots=True)
class Strayed:
    """A file that is not, or cannot be shown to be, what a change left."""

    at: VolumePath
    change: int
    because: str


@dataclass(slots=True)
class ReadBack:
    """What came of reading back."""

    files: int = 0
    bytes: int = 0
    changes: tuple[int, ...] = ()
    """Numbers of the changes whose files were read."""
    from_medium: bool = True
    """Whether every byte came past the system's memory of it (O_DIRECT); else it was only asked to forget."""
    edited: list[Strayed] = field(default_factory=list)
    """Whole, and not what the change left: edited since, by a person or by the device."""
    damaged: list[Strayed] = field(default_factory=list)
    """Cannot be read, or comes from the medium otherwise than from the system's memory."""


@dataclass(frozen=True, slots=True)
class _Left:
    at: VolumePath
    change: int
    fingerprint: str


def read_back(card: Card, grounds: Mapping[str, Ground], progress: Progress | None = None) -> ReadBack:
    """Compare what the changes since the last time left with what is on the medium now."""
    found = ReadBack()
    book = read_grounds(grounds)
    verified = {role: _read_note(ground) for role, ground in grounds.items()}
    left = _list_left(book, verified)
    found.changes = tuple(sorted({one.change for one in left}))
    for number, one in enumerate(left):
        if progress is not None:
            progress(f"reading back {one.at.name}", number, len(left))
        _compare(grounds[one.at.volume], card.volume(one.at.volume), one, found)
    if not found.damaged:
        for ground in grounds.values():
            _note(ground)
    return found


def _list_left(book: Book, verified: Mapping[str, str]) -> list[_Left]:
    """The files that the changes not yet read back left, where they stand by now; the latest counts."""
    seen: set[VolumePath] = set()
    left: list[_Left] = []
    trails: list[Trail] = []
    for record in reversed(book.done):
        for thing in record.things:
            last = verified.get(thing.volume)  # None: that volume is absent
            if last is None or not _is_told_by_hash(thing) or not _is_after(record.id, last):
                continue
            at = _by_now(record, thing, trails)
            if at not in seen and not at.is_in_ledger:
                left.append(_Left(at, record.number, thing.fingerprint))
            seen.add(at)
        trails.insert(0, Trail(record))
    return left


def _is_told_by_hash(thing: Touched) -> bool:
    return (
        thing.kind == "file" and thing.fingerprint.startswith(("file:", "large:")) and thing.final is not None
    )


def _is_after(change: str, last: str) -> bool:
    return not last or (number_of(change), change) > (number_of(last), last)


def _by_now(record: Record, thing: Touched, later: Sequence[Trail]) -> VolumePath:
    at = record.place(thing.volume, thing.goal(forward=True), at_end=True)
    for trail in later:
        at = trail.follow(at)
    return at


def _compare(ground: Ground, volume: Volume, one: _Left, found: ReadBack) -> None:
    try:
        remembered = _fingerprint(ground, one.at.path)
        if remembered is None:
            found.edited.append(Strayed(one.at, one.change, "is no longer there"))
            return
        size = int(one.fingerprint.split(":")[1]) if remembered == one.fingerprint else 0
        on_medium, is_direct = _fingerprint_past_memory(ground, volume, one.at.path)
    except OSError as error:
        found.damaged.append(Strayed(one.at, one.change, f"cannot be read: {explain(error)}"))
        return
    found.files += 1
    found.bytes += size
    found.from_medium &= is_direct
    if on_medium != remembered:
        found.damaged.append(
            Strayed(one.at, one.change, "comes back from the medium otherwise than it was written")
        )
    elif on_medium != one.fingerprint:
        found.edited.append(
            Strayed(one.at, one.change, "was edited since, outside Cardwright or by the device")
        )


def _fingerprint(ground: Ground, path: str) -> str | None:
    there = ground.lstat(path)
    if there is None or kind_of(there) != "file":
        return None
    return fingerprint_file(ground, path, there.st_size)


def _fingerprint_past_memory(ground: Ground, volume: Volume, path: str) -> tuple[str, bool]:
    """The fingerprint by O_DIRECT where the volume has it; else after the system was asked to forget."""
    there = ground.lstat(path)
    assert there is not None
    with ground.reading(path) as handle:
        with contextlib.suppress(OSError, AttributeError):
            os.fsync(handle)
        with contextlib.suppress(OSError, AttributeError):
            os.posix_fadvise(handle, 0, 0, os.POSIX_FADV_DONTNEED)
        if there.st_size <= WHOLE_BYTES and _has_medium(volume):
            with contextlib.suppress(OSError):
                return _hash_direct(handle, there.st_size), True
    return fingerprint_file(ground, path, there.st_size), False


def _has_medium(volume: Volume) -> bool:
    """Whether the kernel itself reads the file system from a device; FUSE answers from a program's memory."""
    return volume.device.startswith("/dev/") and not volume.filesystem.lower().startswith("fuse")


def _hash_direct(handle: int, size: int) -> str:
    """The fingerprint of a file read through a descriptor opened anew with O_DIRECT, into aligned memory.

    Raises:
        OSError: the file system refuses that.
    """
    import hashlib

    direct = os.open(f"/proc/self/fd/{handle}", os.O_RDONLY | os.O_DIRECT)
    hashed = hashlib.sha256()
    try:
        with mmap.mmap(-1, _CHUNK) as buffer:
            view = memoryview(buffer)
            try:
                while count := os.readv(direct, [view]):
                    hashed.update(view[:count])
            finally:
                view.release()
    finally:
        os.close(direct)
    return f"file:{size}:{hashed.hexdigest()}"


# What was read back before


def _note_file(ground: Ground) -> Path | None:
    try:
        volume = read_volume_id(ground)
    except CardwrightError:
        return None
    is_name = volume is not None and volume.replace("-", "").isalnum()
    return state_folder() / "read-back" / f"{volume}.json" if is_name else None


def _read_note(ground: Ground) -> str:
    """The id of the last change of that volume that was read back; `""` where none was."""
    file = _note_file(ground)
    if file is None:
        return ""
    try:
        last = str(json.loads(file.read_bytes())["last"])
    except (OSError, ValueError, KeyError, TypeError):
        return ""
    return last if last in list_changes(ground) else ""


def _note(ground: Ground) -> None:
    file, changes = _note_file(ground), list_changes(ground)
    if file is not None and changes:
        with contextlib.suppress(HostWriteError):  # then it is read once more next time
            write_safely(file, json.dumps({"last": changes[-1]}).encode("ascii"))

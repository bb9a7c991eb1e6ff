"""Kept copies on this computer, read back: what lies where, whether it is there, and whether it is right.

Each change has a folder of its own below the one that a person named; `host_keeping` fills it.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.changes.ground import Ground, explain, read_chunks
from workbench.changes.pack import Packed, read_packed
from workbench.errors import LedgerError, PreflightError
from workbench.shown import shown
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.changes.record import Record

PACK = "kept.pack"
ABOUT = "about.txt"
KEPT_COPY = "its kept copy"
"""How the reason of a conflict starts that comes of copies which cannot be had."""


@dataclass(frozen=True, slots=True)
class HostCopy:
    """One file or folder of a thing that was copied whole."""

    thing: int
    path: str
    """Within the thing; empty for the thing itself."""
    size: int
    sha256: str
    """Hex; empty for a folder."""
    mode: int

    def to_json(self) -> list[Any]:
        return [self.thing, self.path, self.size, self.sha256, self.mode]

    @property
    def is_folder(self) -> bool:
        return not self.sha256

    @property
    def place(self) -> str:
        """Below the keep's folder."""
        return f"{self.thing}/{self.path}" if self.path else str(self.thing)


@dataclass(frozen=True, slots=True)
class HostKeep:
    """What one change keeps on the host for one volume."""

    folder: str
    """Absolute path, as it was when the change was made."""
    copies: tuple[HostCopy, ...] = ()

    def to_json(self) -> list[Any]:
        return [self.folder, [copy.to_json() for copy in self.copies]]

    @classmethod
    def from_json(cls, found: Any) -> HostKeep:
        copies = tuple(HostCopy(*row) for row in found[1])
        if any(part in ("", ".", "..") for copy in copies if copy.path for part in copy.path.split("/")):
            raise ValueError("a copy's path leads elsewhere")
        return cls(found[0], copies)

    @property
    def is_there(self) -> bool:
        return os.path.isdir(self.folder)

    @property
    def things(self) -> frozenset[int]:
        """Ids of the things that were copied whole."""
        return frozenset(copy.thing for copy in self.copies)

    def of(self, thing: int) -> tuple[HostCopy, ...]:
        """The copies of one thing, folders before what is in them."""
        return tuple(copy for copy in self.copies if copy.thing == thing)

    def file(self, copy: HostCopy) -> str:
        """The copy's own path on the host."""
        return f"{self.folder}/{copy.place}"


@contextlib.contextmanager
def open_keep(record: Record, role: str) -> Iterator[tuple[Ground, HostKeep]]:
    """The host's part of a change's copies for a volume.

    Raises:
        LedgerError: the folder is not there.
    """
    keep = record.kept_on[role]
    try:
        host = Ground("host", Path(keep.folder), fat=False)
    except OSError as error:
        raise LedgerError(
            f"what change {record.number} kept lies in {shown(keep.folder)} on the computer that wrote it, "
            f"and that folder cannot be opened here: {explain_host(error)}",
            path=keep.folder,
        ) from error
    with host:
        yield host, keep


def read_host_pack(record: Record, role: str, packed: Packed) -> bytes:
    """One content of the pack on the host.

    Raises:
        LedgerError: the folder is not there, or the pack is damaged.
    """
    with open_keep(record, role) as (host, _):
        return read_packed(host, PACK, packed)


def check_keep(record: Record, role: str) -> None:
    """Read everything that the host keeps of a volume and compare it with the record.

    Raises:
        LedgerError: something is missing or not what it should be.
        PreflightError: a file was not what it was when the plan was checked.
    """
    with open_keep(record, role) as (host, keep):
        for thing in record.of_volume(role):
            if thing.copy == "pack":
                read_packed(host, PACK, record.packs[role][thing.id])
        for copy in keep.copies:
            if not copy.is_folder:
                for _ in _read_checked(host, keep, copy):
                    pass
            fingerprint = record.thing(copy.thing).fingerprint
            if fingerprint.startswith("file:") and fingerprint != f"file:{copy.size}:{copy.sha256}":
                raise PreflightError(
                    f"a file of the volume {shown(role)} changed while it was being kept. Nothing was "
                    "written; close the program that writes there and try again."
                )


def check_copies(record: Record, role: str, thing: int) -> None:
    """Read a thing's copies on the host and compare them with the record.

    Raises:
        LedgerError: one is missing or not what it was.
    """
    with open_keep(record, role) as (host, keep):
        for copy in keep.of(thing):
            if not copy.is_folder:
                for _ in _read_checked(host, keep, copy):
                    pass


def read_pieces(record: Record, role: str, thing: int) -> Iterator[bytes]:
    """The content of a file that was copied whole; checked, but only when the last piece was taken.

    Raises:
        LedgerError: it is missing or not what it was.
    """
    with open_keep(record, role) as (host, keep):
        yield from _read_checked(host, keep, keep.of(thing)[0])


def _read_checked(host: Ground, keep: HostKeep, copy: HostCopy) -> Iterator[bytes]:
    hashed, size = hashlib.sha256(), 0
    try:
        with host.reading(copy.place) as handle:
            for piece in read_chunks(handle):
                hashed.update(piece)
                size += len(piece)
                yield piece
    except OSError as error:
        raise _damaged(keep, copy) from error
    if (size, hashed.hexdigest()) != (copy.size, copy.sha256):
        raise _damaged(keep, copy)


def _damaged(keep: HostKeep, copy: HostCopy) -> LedgerError:
    return LedgerError(
        f"the kept copy {shown(keep.file(copy))} is missing, or is not what it was; it was left as it is",
        path=keep.file(copy),
    )


def explain_host(error: OSError) -> str:
    """Why this computer refused, as the end of a sentence."""
    return "it is not there" if error.errno == 2 else (error.strerror or explain(error))


def relocate(record: Record, folder: Path | None) -> Record:
    """The record with its copies looked for below `folder` where they are not where they were.

    `folder`: the one that was named with --keep-on, or a change's own below it.
    """
    if folder is None:
        return record
    full = folder.expanduser().resolve()
    moved = dict(record.kept_on)
    for role, keep in record.kept_on.items():
        inner = Path(keep.folder)
        for place in (full / inner.parent.name / inner.name, full / inner.name):
            if not keep.is_there and place.is_dir():
                moved[role] = replace(keep, folder=str(place))
                break
    return replace(record, kept_on=moved)


def find_absent(record: Record) -> Mapping[str, str]:
    """For each volume whose copies should lie on the host and do not: the sentence's end that says so."""
    return {
        role: f"{KEPT_COPY} lies in {shown(keep.folder)}, which is not here"
        for role, keep in record.kept_on.items()
        if not keep.is_there
    }


def drop_copies(record: Record) -> None:
    """Take away what the host keeps of a change that was taken back or never began."""
    for folder in {Path(keep.folder).parent for keep in record.kept_on.values()}:
        if folder.name == f"kept-{record.id}" and (folder / ABOUT).is_file():
            drop_folder(folder)


def drop_folder(folder: Path) -> None:
    """A change's own folder on the host; what cannot be removed stays, harmlessly."""
    import shutil

    shutil.rmtree(folder, ignore_errors=True)

"""Kept copies on this computer: where a volume is too full to keep them itself, and only when asked for.

Each change has a folder of its own below the one that was named. Nothing is replaced on the card before its
copy here is flushed, read again and found right; what was removed leaves the card only after that.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.changes.ground import Ground, explain, kind_of, read_chunks, write_all
from workbench.changes.pack import Packed, read_packed
from workbench.changes.touched import Touched
from workbench.errors import LedgerError, PreflightError
from workbench.host.folders import state_folder
from workbench.shown import shown
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.record import Record

PACK = "kept.pack"
ABOUT = "about.txt"


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


def check_keep_folder(card: Card, folder: Path) -> Path:
    """The folder that kept copies may go to, as an absolute path; it need not be there yet.

    Raises:
        PreflightError: it lies on the card itself, is a file, or may not be written to.
    """
    full = folder.expanduser().resolve()
    anchor = next(one for one in (full, *full.parents) if one.exists())
    device = anchor.stat().st_dev
    for volume in card.present:
        root = volume.root.resolve()
        on_card = device == root.stat().st_dev and device != state_folder().stat().st_dev
        if on_card or root == full or root in full.parents:
            raise PreflightError(
                f"the folder {shown(str(full))} is on the card itself (volume {shown(volume.role)}), and "
                "what that has no room for cannot be kept there. Nothing was changed; name a folder on this "
                "computer.",
                path=str(full),
            )
    if not anchor.is_dir() or not os.access(anchor, os.W_OK):
        raise PreflightError(
            f"the folder {shown(str(full))} is no folder that you may write to. Nothing was changed; name "
            "another one.",
            path=str(full),
        )
    return full


class HostKeeping:
    """The folder of one change on the host while it is being filled."""

    def __init__(self, folder: Path, record: Record) -> None:
        self.folder = folder / f"kept-{record.id}"
        self.record = record
        self._host: Ground | None = None
        self.is_made = False

    def open(self, role: str) -> tuple[Ground, HostKeep]:
        """The volume's part, made new.

        Raises:
            PreflightError: the host refused.
        """
        with self.telling():
            if self._host is None:
                self.folder.mkdir(mode=0o700, parents=True)
                self.is_made = True
                self._host = Ground("host", self.folder, fat=False)
                with self._host.creating(ABOUT) as handle:
                    write_all(handle, self._about().encode())
            inner = folder_name(self.record, role)
            self._host.make_folder(inner)
        return self._host, HostKeep(f"{self.folder}/{inner}")

    @contextlib.contextmanager
    def telling(self) -> Iterator[None]:
        """Makes a sentence of what the host refuses."""
        try:
            yield
        except OSError as error:
            raise PreflightError(
                f"the copies could not be kept in {shown(str(self.folder))}: {error.strerror or error}. "
                "Nothing was changed on the card; name another folder with --keep-on.",
                path=str(self.folder),
            ) from error

    def flush_folders(self) -> None:
        """Flush the names of all that was made here."""
        if self._host is None:
            return
        with self.telling():
            for folder, _, _ in os.walk(self.folder):
                inner = os.path.relpath(folder, self.folder)
                self._host.sync_folder("" if inner == "." else inner)
            with Ground("host", self.folder.parent, fat=False) as above:
                above.sync_folder("")

    def discard(self) -> None:
        """Take it all away again."""
        if self.is_made:
            drop_folder(self.folder)

    def __enter__(self) -> HostKeeping:
        return self

    def __exit__(self, *_: object) -> None:
        if self._host is not None:
            self._host.close()
            self._host = None

    def _about(self) -> str:
        return (
            f"Kept copies of change {self.record.number} ({shown(self.record.title)}), id {self.record.id}.\n"
            "The card was too full to keep them. Undo needs them; without them that change stays as it is.\n"
        )


def folder_name(record: Record, role: str) -> str:
    """The volume's part of a change's folder; roles are names from a card, numbers are safe."""
    return f"volume-{list(record.previous).index(role) + 1}"


# Writing


def copy_thing(
    source: Ground, path: str, thing: Touched, host: Ground, inner: str
) -> tuple[HostCopy, ...] | None:
    """Copy a file, or a folder with all in it, flushed; None where it holds a link, of which no copy can be.

    Raises:
        OSError: the card or the host refused.
    """
    rows = _list_below(source, path, thing.id)
    if rows is None:
        return None
    copied = []
    for row in rows:
        below = f"{path}/{row.path}" if row.path else path
        if row.is_folder and row.size < 0:
            host.make_folder(f"{inner}/{row.place}")
            copied.append(replace(row, size=0))
        else:
            copied.append(_copy_file(source, below, row, host, inner))
    return tuple(copied)


def _list_below(source: Ground, path: str, thing: int, below: str = "") -> list[HostCopy] | None:
    """Rows without hashes, folders (size -1) first; None where something is neither file nor folder."""
    found = source.lstat(f"{path}/{below}" if below else path)
    if found is None:
        raise FileNotFoundError(2, "No such file or directory", path)
    mode, kind = found.st_mode & 0o7777, kind_of(found)
    if kind == "file":
        return [HostCopy(thing, below, found.st_size, "", mode)]
    if kind != "folder":
        return None
    rows = [HostCopy(thing, below, -1, "", mode)]
    for name in source.names(f"{path}/{below}" if below else path):
        inner = _list_below(source, path, thing, f"{below}/{name}" if below else name)
        if inner is None:
            return None
        rows += inner
    return rows


def _copy_file(source: Ground, path: str, row: HostCopy, host: Ground, inner: str) -> HostCopy:
    hashed, size = hashlib.sha256(), 0
    with source.reading(path) as old, host.creating(f"{inner}/{row.place}") as handle:
        for piece in read_chunks(old):
            hashed.update(piece)
            size += len(piece)
            write_all(handle, piece)
    return replace(row, size=size, sha256=hashed.hexdigest())


# Reading


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


def is_to_hand_over(thing: Touched, things: Iterable[Touched]) -> bool:
    """Whether it is removed as it is, so that a copy on the host can stand for it in the end."""
    is_removed = not thing.is_new and thing.replaced_by is None and thing.final == thing.rest
    holds_others = any(place.base == thing.id for other in things for place in other.visited)
    return is_removed and thing.kind in ("file", "folder") and not holds_others


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
        role: f"its kept copy lies in {shown(keep.folder)}, which is not here"
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

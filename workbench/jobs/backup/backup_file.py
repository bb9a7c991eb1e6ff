"""A backup opened for reading: its list, its seal, and the bytes of its files, each checked as it comes."""

from __future__ import annotations

import hashlib
import struct
import zlib
from collections.abc import Callable, Collection, Iterable, Iterator
from pathlib import Path
from typing import IO

from workbench.host.archives.limits import ArchiveError, Limits
from workbench.host.archives.member import Member
from workbench.host.archives.zip_archive import ZipArchive
from workbench.jobs.backup.backup_list import (
    BACKUP_LIST,
    SEAL,
    SEAL_LENGTH,
    BackupError,
    BackupList,
    make_seal,
    read_backup_list,
)
from workbench.values import dataclass

_LIMITS = Limits(total_bytes=1 << 44, ratio=0, entries=1_000_000)
"""A backup may be large; it was made here, and its list says what is in it."""
_LIST_BYTES = 256 * 1024 * 1024
_LOCAL = struct.Struct("<4s5H3I2H")
_CENTRAL = struct.Struct("<4s6H3I5H2I")


Consume = Callable[[str, Iterator[bytes]], None]


@dataclass(frozen=True, slots=True)
class Fault:
    """Something in a backup that is not as it was written."""

    path: str
    """In the backup; empty for the zip itself."""
    because: str
    """The end of a sentence that starts with the path."""


@dataclass(frozen=True, slots=True)
class _Header:
    name: str
    offset: int
    size: int
    """Of the header, with its name and extra field."""
    packed: int


class BackupFile:
    """One backup.

    Raises:
        BackupError: it is no backup, or its list cannot be read.
        ArchiveError: it is no zip any more.
    """

    def __init__(self, path: Path) -> None:
        self.path = path
        if path.is_dir():
            raise BackupError(f"{path} is a folder and no backup; nothing was changed.", path=str(path))
        try:
            self._zip = ZipArchive(path, _LIMITS)
            raw = self._read_list()
        except OSError as error:
            raise BackupError(
                f"{path} cannot be read: {error.strerror or error}; nothing was changed.", path=str(path)
            ) from error
        if not raw:
            raise BackupError(
                f"{path} is no backup made here, or it was cut off: it has no list {BACKUP_LIST}. "
                "Nothing was changed.",
                path=str(path),
            )
        self._listed = hashlib.sha256(raw).hexdigest()
        self.list: BackupList = read_backup_list(raw, str(path))
        self._paths = {one: _inner_name(one) for one in self.list.files}

    def _read_list(self) -> bytes:
        held: list[bytes] = []
        self._zip.visit([BACKUP_LIST], lambda _, pieces: held.extend(_bounded(pieces, _LIST_BYTES)))
        return b"".join(held)

    def find_faults(self) -> tuple[Fault, ...]:
        """Everything that is not as it was written: read whole, every bit of it.

        Files first, then what is in no file of it: a header, the directory, the comment.
        """
        faults = [*self._check_files(), *self._check_seal()]
        return tuple(faults)

    def visit(self, wanted: Collection[str] | None, consume: Consume) -> None:
        """Hand the bytes of these files (all, where None) to `consume`, piece by piece, in one reading.

        Raises:
            ArchiveError: one cannot be unpacked; raised where its pieces are asked for.
        """
        paths = None if wanted is None else {self._paths[path] for path in wanted if path in self._paths}
        names = {inner: path for path, inner in self._paths.items()}

        def take(member: Member, pieces: Iterator[bytes]) -> None:
            path = names.get(member.path)
            if path is not None:
                consume(path, pieces)

        self._zip.visit(paths, take)

    # Checking

    def _check_files(self) -> Iterator[Fault]:
        inside = {member.path for member in self._zip.members()} - {BACKUP_LIST}
        known = set(self._paths.values())
        faults = [Fault(path, "is not in the backup's list") for path in sorted(inside - known)]
        faults += [
            Fault(path, "is in the list and not in the backup")
            for path in self.list.files
            if self._paths[path] not in inside
        ]

        def check(path: str, pieces: Iterator[bytes]) -> None:
            saved = self.list.files[path]
            hashed, size = hashlib.sha256(), 0
            try:
                for piece in pieces:
                    hashed.update(piece)
                    size += len(piece)
            except ArchiveError:
                faults.append(Fault(path, "cannot be unpacked any more"))
                return
            if size != saved.size or hashed.hexdigest() != saved.sha256:
                faults.append(Fault(path, "is not what was saved"))

        self.visit(None, check)
        return iter(faults)

    def _check_seal(self) -> Iterator[Fault]:
        try:
            with open(self.path, "rb") as file:
                yield from self._check_bytes(file)
        except (struct.error, ValueError, IndexError):
            yield Fault("", "has headers that cannot be read any more")

    def _check_bytes(self, file: IO[bytes]) -> Iterator[Fault]:
        size = file.seek(0, 2)
        file.seek(max(0, size - SEAL_LENGTH - 22))
        tail = file.read()
        comment = tail[22:].decode("ascii", "replace")
        length = int.from_bytes(tail[20:22], "little")
        if tail[:4] != b"PK\5\6" or length != SEAL_LENGTH or not comment.startswith(SEAL):
            yield Fault("", "does not end in the seal of a backup")
            return
        start = struct.unpack_from("<I", tail, 16)[0]
        start = _find_wide_start(file, size, start)
        file.seek(start)
        directory = file.read(size - start - SEAL_LENGTH - 2)
        hashed, at = hashlib.sha256(), 0
        for header in _list_headers(file, directory):
            if header.offset != at:
                yield Fault(header.name, "does not stand where it was written")
                return
            file.seek(at)
            hashed.update(file.read(header.size))
            saved = self.list.files.get(header.name)
            written = saved.packed_crc if saved is not None else None
            if written is not None and _crc_of(file, header.packed) != written:
                yield Fault(header.name, "has packed bytes that are not what was written")
            at += header.size + header.packed
        hashed.update(directory)
        if at != start or comment != make_seal(hashed.hexdigest(), self._listed):
            yield Fault("", "has a list, a header or a directory that is not what was written")


def _list_headers(file: IO[bytes], directory: bytes) -> Iterator[_Header]:
    """The local headers, as the directory leads to them."""
    place = 0
    while directory[place : place + 4] == b"PK\1\2":
        fields = _CENTRAL.unpack_from(directory, place)
        flags, packed, size, length, extra_length, comment = fields[3], *fields[8:10], *fields[10:13]
        offset = fields[16]
        begin = place + _CENTRAL.size
        raw = directory[begin : begin + length]
        extra = directory[begin + length : begin + length + extra_length]
        packed, offset = _widen(extra, size, packed, offset)
        place = begin + length + extra_length + comment
        file.seek(offset)
        local = _LOCAL.unpack(file.read(_LOCAL.size))
        yield _Header(_decode(raw, flags), offset, _LOCAL.size + local[9] + local[10], packed)


def _widen(extra: bytes, size: int, packed: int, offset: int) -> tuple[int, int]:
    """The packed size and the offset with what zip64 says of them."""
    if extra[:2] != b"\1\0":
        return packed, offset
    values = [
        one[0] for one in struct.iter_unpack("<Q", extra[4 : 4 + struct.unpack_from("<H", extra, 2)[0]])
    ]
    if size == 0xFFFFFFFF:
        values.pop(0)
    if packed == 0xFFFFFFFF:
        packed = values.pop(0)
    if offset == 0xFFFFFFFF:
        offset = values.pop(0)
    return packed, offset


def _find_wide_start(file: IO[bytes], size: int, start: int) -> int:
    if start != 0xFFFFFFFF:
        return start
    file.seek(size - SEAL_LENGTH - 22 - 20)
    where = struct.unpack_from("<Q", file.read(20), 8)[0]
    file.seek(where)
    return int(struct.unpack_from("<Q", file.read(56), 48)[0])


def _crc_of(file: IO[bytes], size: int) -> int:
    crc = 0
    while size > 0 and (piece := file.read(min(size, 1 << 20))):
        crc = zlib.crc32(piece, crc)
        size -= len(piece)
    return crc


def _inner_name(path: str) -> str:
    """A path as a zip's reader tells it: what is no UTF-8 was put in as it is, and is taken for CP437."""
    try:
        path.encode("utf-8")
    except UnicodeEncodeError:
        return path.encode("utf-8", "surrogateescape").decode("cp437")
    return path


def _decode(raw: bytes, flags: int) -> str:
    return raw.decode("utf-8") if flags & 0x800 else raw.decode("utf-8", "surrogateescape")


def _bounded(pieces: Iterable[bytes], most: int) -> Iterator[bytes]:
    for piece in pieces:
        most -= len(piece)
        if most < 0:
            return
        yield piece

"""Writes a zip on the host that is there whole or not at all: under a name in waiting, renamed at the end.

PKWARE APPNOTE 6.3: sizes stand in the local headers, UTF-8 names have bit 11, what is over 4 GiB gets zip64
fields; the Unix mode is in the external attributes, seconds of UTC in the extra field 0x5455 (Info-ZIP).
"""

from __future__ import annotations

import contextlib
import errno
import os
import struct
import threading
import time
import zlib
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import IO

from workbench.host.safe_write import HostWriteError, sync_folder
from workbench.values import dataclass

STORED, DEFLATED = 0, 8
_UTF8 = 0x800
_UNIX = 3 << 8
_LIMIT = 0xFFFFFFFF
_LOCAL = struct.Struct("<4s5H3I2H")
_CENTRAL = struct.Struct("<4s6H3I5H2I")
_SYNC_EVERY = 2 * 1024 * 1024
_EARLIEST = 0x21  # 1 January 1980: month and day are counted from 1


@dataclass(frozen=True, slots=True)
class Packed:
    """A file as it goes into the zip."""

    name: bytes
    method: int
    crc: int
    size: int
    """Unpacked."""
    data: bytes
    mode: int = 0o644
    mtime: int | None = None
    """Seconds of UTC; None for no time (1 January 1980, and no extra field)."""
    is_utf8: bool = False


@dataclass(frozen=True, slots=True)
class _Entry:
    name: bytes
    flags: int
    method: int
    clock: tuple[int, int]
    crc: int
    packed: int
    size: int
    mode: int
    extra: bytes
    offset: int


class ZipMaking:
    """One zip being written."""

    def __init__(self, file: IO[bytes]) -> None:
        self._file = file
        self._at = 0
        self._entries: list[_Entry] = []
        self._synced = 0
        self.syncing = threading.Event()
        """Set when there is something for the disk to begin with."""
        self._headers: list[bytes] = []
        """Every local header, in the order of the file."""
        self.comment: Callable[[str], str] | None = None
        """Makes the zip's comment of the SHA-256 of all headers, the directory and the end before it."""

    def add(self, one: Packed) -> None:
        """A file whose packed bytes are at hand."""
        flags = _UTF8 if one.is_utf8 else 0
        clock, extra = dos_time(one.mtime), _time_extra(one.mtime)
        entry = _Entry(
            one.name, flags, one.method, clock, one.crc, len(one.data), one.size, one.mode, extra, self._at
        )
        head = _local_header(entry)
        self._headers.append(head)
        self._write(head)
        self._write(one.data)
        self._entries.append(entry)

    def add_large(
        self, name: bytes, pieces: Iterable[bytes], *, mode: int, mtime: int | None, is_utf8: bool
    ) -> None:
        """A file too large for the memory, stored as it is; its sizes are put into its header afterwards."""
        flags, clock, extra = (_UTF8 if is_utf8 else 0), dos_time(mtime), _time_extra(mtime)
        start = self._at
        blank = _Entry(name, flags, STORED, clock, 0, _LIMIT, _LIMIT, mode, extra, start)
        self._write(_local_header(blank, wide=True))
        crc, size = 0, 0
        for piece in pieces:
            crc = zlib.crc32(piece, crc)
            size += len(piece)
            self._write(piece)
        entry = _Entry(name, flags, STORED, clock, crc, size, size, mode, extra, start)
        self._file.seek(start)
        head = _local_header(entry, wide=True)
        self._headers.append(head)
        self._file.write(head)
        self._file.seek(self._at)
        self._entries.append(entry)

    def finish(self) -> None:
        """The directory and the end."""
        start = self._at
        directory = b"".join(map(_central_header, self._entries))
        size, count = len(directory), len(self._entries)
        if count > 0xFFFE or start >= _LIMIT or size >= _LIMIT:
            end = struct.pack("<4sQ2H2I4Q", b"PK\6\6", 44, _UNIX | 45, 45, 0, 0, count, count, size, start)
            directory += end + struct.pack("<4sIQI", b"PK\6\7", 0, start + size, 1)
        few, small = min(count, 0xFFFF), min(size, _LIMIT)
        directory += struct.pack("<4s4H2I", b"PK\5\6", 0, 0, few, few, small, min(start, _LIMIT))
        comment = b""
        if self.comment is not None:
            import hashlib

            hashed = hashlib.sha256(b"".join(self._headers) + directory)
            comment = self.comment(hashed.hexdigest()).encode("ascii")
        self._write(directory + struct.pack("<H", len(comment)) + comment)

    def _write(self, data: bytes) -> None:
        self._file.write(data)
        self._at += len(data)
        if self._at - self._synced > _SYNC_EVERY:
            self._synced = self._at
            self.syncing.set()


@contextlib.contextmanager
def making_zip(path: Path) -> Iterator[ZipMaking]:
    """A zip that stands at `path` once the block is left; if it fails, nothing does.

    Raises:
        HostWriteError: the disk is full, no permission, …; what was at `path` is untouched.
    """
    waiting = path.with_name(f".{path.name[:100]}.{os.getpid()}.part")
    try:
        with open(waiting, "xb", buffering=1024 * 1024) as file:
            making = ZipMaking(file)
            with _syncing(making, file.fileno()):
                yield making
                making.finish()
            file.flush()
            if file.tell() != os.fstat(file.fileno()).st_size:
                raise OSError(errno.EIO, "not all bytes arrived")
            os.fsync(file.fileno())
        os.replace(waiting, path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            os.unlink(waiting)
        if isinstance(error, OSError) and error.filename in (None, os.fspath(waiting), os.fspath(path)):
            because = "the disk is full" if error.errno == errno.ENOSPC else error.strerror or str(error)
            raise HostWriteError(
                f"{path} could not be written: {because}. What was there is untouched; make room or choose "
                "another place, then do it again.",
                path=str(path),
            ) from error
        raise
    sync_folder(path.parent)


@contextlib.contextmanager
def _syncing(making: ZipMaking, handle: int) -> Iterator[None]:
    """Let the disk begin with what is written while more is made: the flush at the end is short then."""
    is_over = False
    sync_data = getattr(os, "fdatasync", os.fsync)  # macOS has only the latter

    def sync() -> None:
        while making.syncing.wait() and not is_over:
            making.syncing.clear()
            with contextlib.suppress(OSError):  # what matters is the flush at the end, which tells
                sync_data(handle)

    thread = threading.Thread(target=sync, daemon=True)
    thread.start()
    try:
        yield
    finally:
        is_over = True
        making.syncing.set()
        thread.join()


def name_bytes(name: str) -> tuple[bytes, bool]:
    """A name as a zip holds it, and whether that is marked as UTF-8; bytes that are no text stay so."""
    try:
        return name.encode("ascii"), False
    except UnicodeEncodeError:
        pass
    try:
        return name.encode("utf-8"), True
    except UnicodeEncodeError:
        return name.encode("utf-8", "surrogateescape"), False


def dos_time(mtime: int | None) -> tuple[int, int]:
    """Time and date in the forms of FAT: steps of two seconds, local, 1980 to 2107; outside, the nearest."""
    if mtime is None:
        return 0, _EARLIEST
    year, month, day, hour, minute, second = time.localtime(mtime)[:6]
    if year < 1980:
        return 0, _EARLIEST
    if year > 2107:
        return 23 << 11 | 59 << 5 | 29, 127 << 9 | 12 << 5 | 31
    return hour << 11 | minute << 5 | min(second, 58) // 2, (year - 1980) << 9 | month << 5 | day


def _time_extra(mtime: int | None) -> bytes:
    if mtime is None or not -(1 << 31) <= mtime < 1 << 31:
        return b""
    return struct.pack("<2HBi", 0x5455, 5, 1, mtime)


def _local_header(entry: _Entry, *, wide: bool = False) -> bytes:
    extra = entry.extra
    packed, size = entry.packed, entry.size
    wide = wide or packed >= _LIMIT or size >= _LIMIT
    if wide:
        extra = struct.pack("<2H2Q", 1, 16, size, packed) + extra
        packed = size = _LIMIT
    head = _LOCAL.pack(
        b"PK\3\4",
        45 if wide else 20,
        entry.flags,
        entry.method,
        *entry.clock,
        entry.crc,
        packed,
        size,
        len(entry.name),
        len(extra),
    )
    return head + entry.name + extra


def _central_header(entry: _Entry) -> bytes:
    wide = [value for value in (entry.size, entry.packed, entry.offset) if value >= _LIMIT]
    extra = struct.pack(f"<2H{len(wide)}Q", 1, 8 * len(wide), *wide) if wide else b""
    extra += entry.extra
    head = _CENTRAL.pack(
        b"PK\1\2",
        _UNIX | (45 if wide else 20),
        45 if wide else 20,
        entry.flags,
        entry.method,
        *entry.clock,
        entry.crc,
        min(entry.packed, _LIMIT),
        min(entry.size, _LIMIT),
        len(entry.name),
        len(extra),
        0,
        0,
        0,
        (0o100000 | entry.mode) << 16,
        min(entry.offset, _LIMIT),
    )
    return head + entry.name + extra

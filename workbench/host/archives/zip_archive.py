"""A zip, read by its central directory, which is checked against the file before anything is unpacked.

PKWARE APPNOTE 6.3: names with bit 11 are UTF-8, others CP437; bit 0 means encrypted; the Unix mode stands in
the upper half of the external attributes.
"""

from __future__ import annotations

import stat
import struct
import zipfile
import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import IO

from workbench.host.archives.limits import ArchiveError, Limits, Meter
from workbench.host.archives.member import CHUNK, Member, MemberKind, Take

_PACKINGS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA)
_ENCRYPTED = 0x1 | 0x40 | 0x2000
_UNIX = 3
_END = b"PK\5\6"
_LOCAL = struct.Struct("<4s5H3I2H")
_DIRECTORY_BYTES = 64 * 1024 * 1024
"""The largest central directory that is read."""


class ZipArchive:
    """A zip file."""

    format = "zip"

    def __init__(self, path: Path, limits: Limits) -> None:
        self.path = path
        self._limits = limits

    def members(self) -> tuple[Member, ...]:
        """Every name in it."""
        with self._open() as held:
            return tuple(map(describe, self._entries(held)))

    def visit(self, wanted: Iterable[str] | None, take: Take) -> None:
        """Hand the bytes of these files to `take`."""
        chosen = None if wanted is None else set(wanted)
        with self._open() as held:
            meter = self._meter()
            for entry in self._entries(held):
                member = describe(entry)
                is_wanted = chosen is None or member.path in chosen
                if member.kind == "file" and not member.fault and is_wanted:
                    take(member, self._read(held, entry, meter))

    def _open(self) -> zipfile.ZipFile:
        name = str(self.path)
        try:
            with open(self.path, "rb") as file:
                _check_end(file, self._limits, name)
            return zipfile.ZipFile(self.path)
        except (zipfile.BadZipFile, ValueError, NotImplementedError, struct.error) as error:
            raise ArchiveError(f"{name} is damaged ({error}); nothing was written.", path=name) from error

    def _meter(self) -> Meter:
        return Meter(str(self.path), self.path.stat().st_size, self._limits)

    def _entries(self, held: zipfile.ZipFile) -> list[zipfile.ZipInfo]:
        meter = self._meter()
        entries = held.infolist()
        for entry in entries:
            meter.count_entry(entry.orig_filename)
        meter.check_claim(sum(entry.file_size for entry in entries))
        assert held.fp is not None
        with open(self.path, "rb") as file:
            _check_apart(file, entries, held.start_dir, str(self.path))
        return entries

    def _read(self, held: zipfile.ZipFile, entry: zipfile.ZipInfo, meter: Meter) -> Iterator[bytes]:
        name = str(self.path)
        try:
            with held.open(entry) as file:
                while piece := file.read(CHUNK):
                    meter.count(len(piece))
                    yield piece
        except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, ValueError) as error:
            raise ArchiveError(
                f"{name} is damaged: {entry.filename!r} cannot be unpacked ({error}). Nothing was written; "
                "fetch it again.",
                path=name,
            ) from error


def describe(entry: zipfile.ZipInfo) -> Member:
    """A zip's entry as a member."""
    path = entry.orig_filename
    mode = entry.external_attr >> 16 if entry.create_system == _UNIX else 0
    kind: MemberKind = "folder" if path.endswith("/") else "file"
    fault = ""
    if entry.flag_bits & _ENCRYPTED:
        fault = "is encrypted"
    elif entry.compress_type not in _PACKINGS:
        fault = f"is packed in a way that is not read here (method {entry.compress_type})"
    if stat.S_ISLNK(mode):
        kind, fault = "link", "is a symbolic link, which could lead out of the card"
    elif stat.S_IFMT(mode) not in (0, stat.S_IFREG, stat.S_IFDIR):
        kind, fault = "other", "is a device or a pipe"
    elif kind == "folder" and entry.file_size:
        fault = "is a folder that has bytes of its own"
    return Member(path.removesuffix("/"), kind, entry.file_size, bool(mode & 0o100), fault)


def _check_end(file: IO[bytes], limits: Limits, name: str) -> None:
    """Refuse a directory that would fill the memory before `zipfile` reads it whole."""
    file.seek(0, 2)
    size = file.tell()
    tail_size = min(size, 65_557 + 20)
    file.seek(size - tail_size)
    tail = file.read(tail_size)
    at = tail.rfind(_END)
    if at < 0 or len(tail) - at < 22:
        raise ArchiveError(
            f"{name} is no whole zip: its directory is missing. Nothing was written.", path=name
        )
    count, directory = struct.unpack_from("<HI", tail, at + 10)
    if count == 0xFFFF or directory == 0xFFFFFFFF:
        locator = tail.rfind(b"PK\6\7", 0, at)
        if locator >= 0:
            where = struct.unpack_from("<Q", tail, locator + 8)[0]
            file.seek(min(where, size))
            end = file.read(56)
            if end[:4] == b"PK\6\6" and len(end) == 56:
                count, directory = struct.unpack_from("<QQ", end, 32)
    if count > limits.entries or directory > _DIRECTORY_BYTES:
        raise ArchiveError(
            f"{name} says that it holds {count:,} names; at most {limits.entries:,} are read. Nothing was "
            "written.",
            path=name,
        )


def _check_apart(file: IO[bytes], entries: list[zipfile.ZipInfo], directory: int, name: str) -> None:
    """Refuse entries that share bytes: a small zip could unpack without end, and two readers might differ."""
    end, before = 0, ""
    for entry in sorted(entries, key=lambda one: one.header_offset):
        if entry.header_offset < end:
            raise ArchiveError(
                f"{name}: {entry.filename!r} shares bytes with {before!r}, as in no honest zip. Nothing was "
                "written.",
                path=name,
            )
        file.seek(entry.header_offset)
        head = file.read(_LOCAL.size)
        if len(head) < _LOCAL.size or head[:4] != b"PK\3\4":
            raise ArchiveError(
                f"{name} is damaged: {entry.filename!r} is not where its directory says. "
                "Nothing was written.",
                path=name,
            )
        fields = _LOCAL.unpack(head)
        end, before = (
            entry.header_offset + _LOCAL.size + fields[9] + fields[10] + entry.compress_size,
            entry.filename,
        )
    if end > directory:
        raise ArchiveError(
            f"{name}: {before!r} runs into the directory, as in no honest zip. Nothing was written.",
            path=name,
        )

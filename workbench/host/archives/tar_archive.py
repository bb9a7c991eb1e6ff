"""A tar, packed or not, read as a stream: nothing of it is laid down anywhere."""

from __future__ import annotations

import tarfile
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import IO, cast

from workbench.host.archives.byte_stream import ByteStream
from workbench.host.archives.limits import ArchiveError, Limits, Meter
from workbench.host.archives.member import CHUNK, Member, MemberKind, Take
from workbench.host.archives.unpacking import unpack

_FILES = (tarfile.REGTYPE, tarfile.AREGTYPE, tarfile.CONTTYPE)
_OTHERS = {
    tarfile.SYMTYPE: "is a symbolic link, which could lead out of the card",
    tarfile.LNKTYPE: "is a second name of another file",
    tarfile.CHRTYPE: "is a device",
    tarfile.BLKTYPE: "is a device",
    tarfile.FIFOTYPE: "is a pipe",
    tarfile.GNUTYPE_SPARSE: "is a file with holes, which not every reader takes for the same",
}


class TarArchive:
    """A tar file; `packing` is `gzip`, `xz`, `zstd` or empty."""

    def __init__(self, path: Path, packing: str, limits: Limits) -> None:
        self.path = path
        self.format = f"tar with {packing}" if packing else "tar"
        self._packing = packing
        self._limits = limits
        self._members: tuple[Member, ...] | None = None

    def members(self) -> tuple[Member, ...]:
        """Every name in it; the whole of it has to be unpacked for that, once."""
        if self._members is None:
            self._members = tuple(self._walk(lambda _member, _open: None))
        return self._members

    def visit(self, wanted: Iterable[str] | None, take: Take) -> None:
        """Hand the bytes of these files to `take`."""
        chosen = None if wanted is None else set(wanted)

        def look(member: Member, pieces: Iterator[bytes]) -> None:
            is_wanted = chosen is None or member.path in chosen
            if member.kind == "file" and not member.fault and is_wanted:
                take(member, pieces)

        members = tuple(self._walk(look))
        self._members = self._members or members

    def _walk(self, look: Callable[[Member, Iterator[bytes]], None]) -> Iterator[Member]:
        name = str(self.path)
        with open(self.path, "rb") as file:
            meter = Meter(name, self.path.stat().st_size, self._limits)
            stream = ByteStream(unpack(file, self._packing, name), meter, name)
            try:
                with tarfile.open(
                    fileobj=cast("IO[bytes]", stream), mode="r:", encoding="utf-8", errors="surrogateescape"
                ) as tar:
                    yield from self._go_through(tar, meter, look)
            except (tarfile.TarError, ValueError, KeyError, RecursionError) as error:
                raise ArchiveError(f"{name} is damaged ({error}); nothing was written.", path=name) from error
            if stream.last.strip(b"\0") or not stream.last:
                raise ArchiveError(
                    f"{name} is damaged or cut off: it does not end as a tar does. Nothing was written; "
                    "fetch it again.",
                    path=name,
                )

    @staticmethod
    def _go_through(
        tar: tarfile.TarFile, meter: Meter, look: Callable[[Member, Iterator[bytes]], None]
    ) -> Iterator[Member]:
        while (found := tar.next()) is not None:
            vars(tar)["members"].clear()  # tarfile would remember all of them
            member = describe(found)
            meter.count_entry(member.path)
            look(member, _read(tar, found))
            yield member


def describe(found: tarfile.TarInfo) -> Member:
    """A tar's header as a member."""
    kind: MemberKind = "other"
    fault = _OTHERS.get(found.type, "")
    if found.type in _FILES:
        kind = "file"
        if any(key.startswith("GNU.sparse") for key in found.pax_headers):
            fault = _OTHERS[tarfile.GNUTYPE_SPARSE]
    elif found.isdir():
        kind = "folder"
    elif found.type in (tarfile.SYMTYPE, tarfile.LNKTYPE):
        kind = "link"
    else:
        fault = fault or "is of a kind that no reader knows"
    return Member(found.name.rstrip("/") or found.name, kind, found.size, bool(found.mode & 0o100), fault)


def _read(tar: tarfile.TarFile, found: tarfile.TarInfo) -> Iterator[bytes]:
    held = tar.extractfile(found)
    left = found.size
    while held is not None and left > 0:
        piece = held.read(min(CHUNK, left))
        if not piece:
            raise tarfile.ReadError(f"{found.name!r} is cut off")
        left -= len(piece)
        yield piece

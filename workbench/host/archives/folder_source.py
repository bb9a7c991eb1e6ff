"""A folder in the place of an archive: links in it are named and never followed."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator
from pathlib import Path

from workbench.host.archives.limits import ArchiveError, Limits, Meter
from workbench.host.archives.member import CHUNK, Member, MemberKind, Take

_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class FolderSource:
    """A folder on this computer."""

    format = "folder"

    def __init__(self, path: Path, limits: Limits) -> None:
        self.path = path
        self._limits = limits

    def members(self) -> tuple[Member, ...]:
        """Everything below it, by name."""
        meter = Meter(str(self.path), 0, Limits(self._limits.total_bytes, 0, entries=self._limits.entries))
        found = []
        for member in self._walk(""):
            meter.count_entry(member.path)
            meter.count(member.size)
            found.append(member)
        return tuple(found)

    def visit(self, wanted: Iterable[str] | None, take: Take) -> None:
        """Hand the bytes of these files to `take`."""
        chosen = None if wanted is None else set(wanted)
        for member in self.members():
            is_wanted = chosen is None or member.path in chosen
            if member.kind == "file" and is_wanted:
                take(member, self._read(member.path))

    def _walk(self, folder: str) -> Iterator[Member]:
        if folder.count("/") > 2 * self._limits.depth:
            raise ArchiveError(f"{self.path} is too deep; nothing was written.", path=str(self.path))
        with os.scandir(self.path / folder) as found:
            items = sorted(found, key=lambda one: os.fsencode(one.name))
        for item in items:
            path = f"{folder}/{item.name}" if folder else item.name
            yield _describe(path, item.stat(follow_symlinks=False))
            if item.is_dir(follow_symlinks=False):
                yield from self._walk(path)

    def _read(self, path: str) -> Iterator[bytes]:
        handle = os.open(self.path / path, _READ)
        try:
            while piece := os.read(handle, CHUNK):
                yield piece
        finally:
            os.close(handle)


def _describe(path: str, found: os.stat_result) -> Member:
    kinds: dict[int, MemberKind] = {stat.S_IFREG: "file", stat.S_IFDIR: "folder", stat.S_IFLNK: "link"}
    kind = kinds.get(stat.S_IFMT(found.st_mode), "other")
    fault = {"link": "is a symbolic link, which could lead out of the card", "other": "is a device or a pipe"}
    size = found.st_size if kind == "file" else 0
    return Member(path, kind, size, bool(found.st_mode & 0o100), fault.get(kind, ""))

"""Notices that a card came or went. Cheap enough to be asked every second; never rescans by itself."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path

_Fingerprint = tuple[object, ...]


class CardWatch:
    """Remembers what the host's list of media and mounts looked like, and says when it does not any more."""

    def __init__(self, roots: Iterable[Path] = (), *, computer_root: Path = Path("/")) -> None:
        """`roots` are the volumes of the open card: their going is noticed too, folders included."""
        self._roots = tuple(map(os.fspath, roots))
        self._computer_root = computer_root
        self._seen = self._look()

    def changed(self) -> bool:
        """Whether anything came or went since the last time that this was asked (or since the start)."""
        now = self._look()
        before, self._seen = self._seen, now
        return now != before

    def _look(self) -> _Fingerprint:
        return (*self._look_at_host(), *map(_look_at_folder, self._roots))

    def _look_at_host(self) -> _Fingerprint:
        table = self._computer_root / "proc" / "self" / "mountinfo"
        if self._computer_root != Path("/") or sys.platform.startswith("linux"):
            return _read(table), _look_at_disks(os.fspath(self._computer_root / "sys" / "block"))
        import psutil

        return tuple((part.device, part.mountpoint) for part in psutil.disk_partitions(all=False))


def _look_at_disks(folder: str) -> _Fingerprint:
    """Each disk with its size: a reader stays when its card goes, only the size falls to 0."""
    try:
        names = sorted(os.listdir(folder))
    except OSError:
        return ()
    return tuple(
        (name, _read(Path(folder, name, "size"))) for name in names if not name.startswith(("ram", "zram"))
    )


def _look_at_folder(root: str) -> tuple[int, int] | None:
    try:
        found = os.stat(root)
    except OSError:
        return None
    return found.st_dev, found.st_ino


def _read(file: Path) -> bytes:
    try:
        return file.read_bytes()
    except OSError:
        return b""

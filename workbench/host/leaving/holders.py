"""Which programs keep a mounted volume busy: by an open file, a folder, a mapping, themselves (proc(5)).

Other users' programs can be looked into by root only; how many were left out is told.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Holder:
    """One program that keeps a volume busy."""

    pid: int
    name: str
    """As the system shows it; text from elsewhere."""
    path: str
    """One of the places that it holds."""


@dataclass(frozen=True, slots=True)
class Holding:
    """Who holds a volume."""

    holders: tuple[Holder, ...]
    unseen: int
    """Programs that could not be looked into."""


def find_holders(point: str, proc: Path = Path("/proc")) -> Holding:
    """The programs that hold something at or below a mount point; nobody where there is no `/proc`."""
    holders: list[Holder] = []
    unseen = 0
    try:
        pids = sorted(int(name) for name in os.listdir(proc) if name.isdecimal())
    except OSError:
        return Holding((), 0)
    for pid in pids:
        folder = proc / str(pid)
        try:
            held = next((path for path in _list_held(folder) if _is_below(path, point)), None)
        except PermissionError:
            unseen += 1
            continue
        except OSError:  # it ended while it was looked at
            continue
        if held is not None:
            holders.append(Holder(pid, _name_of(folder), held))
    return Holding(tuple(holders), unseen)


def _list_held(folder: Path) -> Iterator[str]:
    for name in ("cwd", "root", "exe"):
        try:
            yield os.readlink(folder / name)
        except FileNotFoundError:  # a thread of the kernel has no program
            continue
    for name in os.listdir(folder / "fd"):
        try:
            yield os.readlink(folder / "fd" / name)
        except FileNotFoundError:
            continue
    for line in (folder / "maps").read_bytes().splitlines():
        fields = line.split(None, 5)
        if len(fields) == 6:
            yield os.fsdecode(fields[5])


def _is_below(path: str, point: str) -> bool:
    path = path.removesuffix(" (deleted)")
    return path == point or path.startswith(point.rstrip("/") + "/")


def _name_of(folder: Path) -> str:
    try:
        return os.fsdecode((folder / "comm").read_bytes().rstrip(b"\n"))
    except OSError:
        return "?"

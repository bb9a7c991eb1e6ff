"""How much room a change needs on a volume, in whole allocation units, before its first byte is written."""

from __future__ import annotations

import os

from workbench.changes.ground import Ground
from workbench.errors import FullVolumeError
from workbench.shown import shown
from workbench.values import dataclass

_LEDGER_UNITS = 8
"""Folders and small files of a change: ledger, changes, own folder, stage, kept, marks, volume.toml …"""
_MARGIN_UNITS = 4


@dataclass(frozen=True, slots=True)
class Room:
    """What is free on a volume and how it is given out."""

    free: int
    unit: int
    """Allocation unit in bytes."""

    def round(self, size: int) -> int:
        """Bytes that a file of this size takes."""
        return -(-size // self.unit) * self.unit


@dataclass(frozen=True, slots=True)
class Need:
    """Bytes that a change needs on one volume, by what for."""

    role: str
    staged: int
    kept: int
    reserve: int
    rest: int

    @property
    def total(self) -> int:
        return self.staged + self.kept + self.reserve + self.rest


def read_room(ground: Ground, unit: int = 0) -> Room:
    """The free bytes now. The unit is the larger of what statvfs and stat say, and of what is known."""
    found = os.statvfs(ground.root)
    root = ground.lstat("")
    block = getattr(root, "st_blksize", 0) if root is not None else 0
    return Room(found.f_bavail * found.f_frsize, max(found.f_bsize, block, unit, 512))


@dataclass(frozen=True, slots=True)
class Sizes:
    """What a plan does on one volume, as far as room goes."""

    new: tuple[int, ...]
    """Sizes of new files."""
    replaced: tuple[tuple[int, int], ...]
    """(old size, new size) of files whose old content is packed."""
    copied: tuple[int, ...]
    """Sizes of replaced files that are copied whole."""
    folders_made: int
    folders_grown: int
    """Folders that get a new name."""
    record: int
    """Estimated bytes of plan.json."""
    on_host: bool = False
    """Whether what is replaced is kept on the host, so that only going back needs room for it."""


def count_reserve(room: Room, sizes: Sizes) -> int:
    """Room that going back, or a folder that grows, may need after the change has begun.

    Going back writes one old file at a time and frees the new one it takes the place of.
    """
    largest = max((room.round(max(old, new)) for old, new in sizes.replaced), default=0)
    growth = sum(abs(room.round(old) - room.round(new)) for old, new in sizes.replaced)
    return largest + growth + (sizes.folders_grown + 2) * room.unit


def count_need(role: str, room: Room, sizes: Sizes) -> Need:
    """Bytes that the change needs there, all told."""
    packed = sum(old for old, _ in sizes.replaced) + sum(min(new, 4 * 2**20) for new in sizes.new)
    rest = (_LEDGER_UNITS + _MARGIN_UNITS + sizes.folders_made) * room.unit + room.round(sizes.record)
    return Need(
        role,
        staged=sum(map(room.round, sizes.new)),
        kept=0 if sizes.on_host else room.round(packed) + sum(map(room.round, sizes.copied)),
        reserve=count_reserve(room, sizes),
        rest=rest,
    )


def refuse_full(need: Need, room: Room, releasable: int, *, keep_on_helps: bool | None = None) -> None:
    """Refuse what does not fit.

    Args:
        releasable: bytes that letting go of kept copies would free there.
        keep_on_helps: whether it would fit with `--keep-on`; None where that was asked for.

    Raises:
        FullVolumeError: with what is needed, what is free, and what would help.
    """
    if need.total <= room.free:
        return
    asked = " though its copies would be kept on this computer" if keep_on_helps is None else ""
    error = FullVolumeError(
        f"the volume {shown(need.role)} is too full: this change needs {show_bytes(need.total)} while it is "
        f"made safe{asked}, and {show_bytes(room.free)} are free. Nothing was changed. "
        + _advise(releasable, keep_on_helps=bool(keep_on_helps)),
        path=f"{need.role}:",
    )
    error.keep_on_helps = bool(keep_on_helps)
    raise error


def _advise(releasable: int, *, keep_on_helps: bool) -> str:
    advice = []
    if releasable:
        advice.append(
            f"Letting go of kept copies of earlier changes would free up to {show_bytes(releasable)} "
            "(`cardwright history CARD --let-go …`)."
        )
    if keep_on_helps:
        advice.append("With --keep-on FOLDER what it replaces is kept on this computer, and it fits.")
    return " ".join(advice) or "Free some space on it first."


def show_bytes(count: int) -> str:
    """Bytes for a person, in binary multiples."""
    size = float(count)
    for unit in ("bytes", "KiB", "MiB"):
        if size < 1024:
            return f"{size:.0f} {unit}" if unit == "bytes" else f"{size:.1f} {unit}"
        size /= 1024
    return f"{size:.1f} GiB"

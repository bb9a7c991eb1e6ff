"""This computer, as far as finding cards goes: its mounts, block devices and labels, each looked at once.

Everything is read below one root, so that tests can lay out a computer in a folder.
"""

from __future__ import annotations

import os
from functools import cached_property
from pathlib import Path

from workbench.card.mounts import Mount, find_mount, read_mounts
from workbench.late_pattern import late_pattern
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.blocks import Blocks

_UDEV_ESCAPE = late_pattern(r"\\x([0-9a-f]{2})")


class Computer:
    """One look at the host; make a new one to look again."""

    def __init__(self, root: Path = Path("/")) -> None:
        self.root = root

    @cached_property
    def blocks(self) -> Blocks:
        from workbench.card.blocks import Blocks

        return Blocks(self.root / "sys")

    @cached_property
    def mounts(self) -> tuple[Mount, ...]:
        table = self.root / "proc" / "self" / "mountinfo"
        return read_mounts(None if self.root == Path("/") else table)

    @cached_property
    def system_disks(self) -> frozenset[str]:
        from workbench.card.system_disks import find_system_disks

        return find_system_disks(self.mounts, self.blocks)

    @cached_property
    def labels(self) -> dict[str, str]:
        """Label by block device name (`sdb1`), as udev keeps them."""
        folder = self.root / "dev" / "disk" / "by-label"
        try:
            names = os.listdir(folder)
        except OSError:
            return {}
        return {os.path.basename(os.path.realpath(folder / name)): _undo_udev(name) for name in names}

    def mount_of(self, path: Path) -> Mount | None:
        """The mount that a path lies on."""
        return find_mount(self.mounts, os.path.realpath(path))

    def label_of(self, mount: Mount | None) -> str:
        """The label of a mounted volume; `""` where none is known."""
        return self.labels.get(os.path.basename(mount.device), "") if mount else ""

    def mounts_on(self, disk: str) -> tuple[Mount, ...]:
        """What is mounted from a disk: each file system once, whole ones only (no bind mounts)."""
        found: dict[str, Mount] = {}
        for mount in self.mounts:
            if mount.inner == "/" and disk in self.blocks.find_disks(mount.device, mount.number):
                found.setdefault(mount.device, mount)
        return tuple(sorted(found.values(), key=lambda mount: (len(mount.device), mount.device)))


def _undo_udev(name: str) -> str:
    raw = _UDEV_ESCAPE.sub(lambda found: chr(int(found[1], 16)), name)
    return raw.encode("latin-1", "ignore").decode("utf-8", "replace") if "\\x" in name else raw

"""What Linux's sysfs says of block devices: which disk lies under a file system, and whether that disk is
a card. Reads only, below a root that tests may put elsewhere.

Facts: `removable` is 1 for media in a fixed drive (USB readers), 0 for mmc devices on purpose
(drivers/mmc/core/block.c); an mmc device's `device/type` is `SD` or, soldered in, `MMC`
(drivers/mmc/core/bus.c); whatever hangs on USB has `/usb` in its resolved path (common practice).
"""

from __future__ import annotations

import os
from pathlib import Path

from workbench.late_pattern import late_pattern
from workbench.values import dataclass

_HARDWARE_PARTITION = late_pattern(r"mmcblk\d+(boot\d+|rpmb|gp\d+)")
_NOT_CARDS = ("sr", "zram", "ram", "fd", "nbd", "md", "dm-")


@dataclass(frozen=True, slots=True)
class Partition:
    """A block device that may hold a file system: a partition, or a disk without any."""

    name: str
    """`sdb1`; the device is `/dev/` and that."""
    number: str
    """`MAJOR:MINOR`."""
    size_bytes: int


@dataclass(frozen=True, slots=True)
class Blocks:
    """The block devices below one sysfs root (`/sys`)."""

    sys: Path

    def list_disks(self) -> tuple[str, ...]:
        """Names of all block devices that are no partitions."""
        return tuple(sorted(_list(self.sys / "block")))

    def is_card(self, disk: str) -> bool:
        """Whether a disk is a medium that a person puts in and takes out."""
        if disk.startswith((*_NOT_CARDS, "loop")) or _HARDWARE_PARTITION.match(disk):
            return False
        folder = self.sys / "block" / disk
        if disk.startswith("mmcblk"):
            return _read(folder / "device" / "type") == "SD"
        return _read(folder / "removable") == "1" or "/usb" in os.path.realpath(folder)

    def is_loop(self, disk: str) -> bool:
        """Whether a disk is a file that stands for one."""
        return disk.startswith("loop")

    def partitions(self, disk: str) -> tuple[Partition, ...]:
        """The partitions of a disk, in order; the disk itself where it has none. Empty without a medium."""
        folder = self.sys / "block" / disk
        if self.size_bytes(folder) == 0:
            return ()
        names = [name for name in _list(folder) if (folder / name / "partition").exists()]
        names.sort(key=lambda name: (len(name), name))
        return tuple(self._partition(folder / name) for name in names) or (self._partition(folder),)

    def find_disks(self, device: str, number: str = "") -> frozenset[str]:
        """The disks that a device lies on: through partitions, mappers, RAID and LUKS to the bottom.

        A loop device is its own disk here; `backing_file` says what it stands on. `number` is used where
        the device is no name of a block device (a mapper's link, say).
        """
        name = self._find_name(device, number)
        return frozenset(self._descend(name, set())) if name else frozenset()

    def find_names(self, device: str, number: str = "") -> frozenset[str]:
        """Every block device on the way from a device down to its disks, both ends included."""
        seen: set[str] = set()
        name = self._find_name(device, number)
        if name:
            self._descend(name, seen)
        return frozenset(seen)

    def backing_file(self, disk: str) -> str | None:
        """The file behind a loop device."""
        return _read(self.sys / "block" / disk / "loop" / "backing_file") or None

    def size_bytes(self, folder: Path) -> int:
        """The size of the device whose sysfs folder this is (sysfs counts 512-byte sectors always)."""
        text = _read(folder / "size")
        return int(text) * 512 if text.isdecimal() else 0

    def _partition(self, folder: Path) -> Partition:
        return Partition(folder.name, _read(folder / "dev"), self.size_bytes(folder))

    def _find_name(self, device: str, number: str) -> str | None:
        if device.startswith("/dev/"):
            name = os.path.basename(device)
            if (self.sys / "class" / "block" / name).exists():
                return name
        if number and not number.startswith("0:"):
            found = self.sys / "dev" / "block" / number
            if found.exists():
                return os.path.basename(os.path.realpath(found))
        if device.startswith("/dev/mapper/"):
            return self._find_mapper(os.path.basename(device))
        return None

    def _find_mapper(self, mapped: str) -> str | None:
        for disk in self.list_disks():
            if _read(self.sys / "block" / disk / "dm" / "name") == mapped:
                return disk
        return None

    def _descend(self, name: str, seen: set[str]) -> set[str]:
        if name in seen:
            return set()
        seen.add(name)
        folder = Path(os.path.realpath(self.sys / "class" / "block" / name))
        if (folder / "partition").exists():
            return self._descend(folder.parent.name, seen)
        below = _list(folder / "slaves")
        if not below:
            return {name}
        return set().union(*(self._descend(one, seen) for one in below))


def _list(folder: Path) -> list[str]:
    try:
        return os.listdir(folder)
    except OSError:
        return []


def _read(file: Path) -> str:
    try:
        return file.read_text(errors="replace").strip()
    except OSError:
        return ""

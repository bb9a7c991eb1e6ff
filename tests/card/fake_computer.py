"""A computer laid out in a folder: /sys, /proc/self/mountinfo, /dev/disk/by-label as Linux shows them.

Layout after sysfs's own rules (Documentation/ABI/testing/sysfs-block): disks below /sys/devices, linked from
/sys/block, partitions in their disk's folder, both linked from /sys/class/block and /sys/dev/block.
"""

from __future__ import annotations

import os
from pathlib import Path

from workbench.card.computer import Computer


class FakeComputer:
    """Grows disks and mounts; `look` is what discovery sees."""

    def __init__(self, root: Path) -> None:
        self.root = root
        self._next = 0
        for folder in ("sys/block", "sys/class/block", "sys/dev/block", "proc/self", "dev/disk/by-label"):
            (root / folder).mkdir(parents=True)
        self._table = root / "proc/self/mountinfo"
        self._table.write_text("")

    def look(self) -> Computer:
        return Computer(self.root)

    def add_disk(
        self,
        name: str,
        bus: str,
        *,
        removable: int = 0,
        parts: int = 0,
        mmc: str = "",
        megabytes: int = 512,
        slaves: tuple[str, ...] = (),
        backing_file: str = "",
    ) -> None:
        """A disk below a bus (`usb1/1-2`, `mmc0`, `nvme`, `virtual`), with partitions."""
        folder = self.root / "sys/devices" / bus / "block" / name
        folder.mkdir(parents=True)
        self._describe(name, folder, megabytes)
        (folder / "removable").write_text(f"{removable}\n")
        (self.root / "sys/block" / name).symlink_to(folder)
        for number in range(1, parts + 1):
            part = f"{name}p{number}" if name[-1].isdigit() else f"{name}{number}"
            (folder / part).mkdir()
            (folder / part / "partition").write_text(f"{number}\n")
            self._describe(part, folder / part, megabytes // parts)
        if mmc:
            (folder / "device").mkdir()
            (folder / "device/type").write_text(f"{mmc}\n")
        for slave in slaves:
            (folder / "slaves").mkdir(exist_ok=True)
            (folder / "slaves" / slave).symlink_to(self.root / "sys/class/block" / slave)
        if backing_file:
            (folder / "loop").mkdir()
            (folder / "loop/backing_file").write_text(f"{backing_file}\n")
        if name.startswith("dm-"):
            (folder / "dm").mkdir()
            (folder / "dm/name").write_text(f"vault{name[3:]}\n")

    def remove_medium(self, name: str) -> None:
        """The reader stays, its card goes."""
        (self.root / "sys/block" / name / "size").write_text("0\n")

    def mount(
        self,
        device: str,
        point: Path | str,
        filesystem: str = "vfat",
        *,
        options: str = "rw,relatime",
        super_options: str = "rw",
        inner: str = "/",
        number: str | None = None,
    ) -> None:
        """One line of the mount table (proc(5)); spaces escaped as the kernel does."""
        if number is None:
            file = self.root / "sys/class/block" / os.path.basename(device) / "dev"
            number = file.read_text().strip() if file.exists() else "0:40"
        fields = (f"{point}".replace("\\", "\\134").replace(" ", "\\040"), inner)
        with self._table.open("a") as table:
            table.write(f"30 1 {number} {fields[1]} {fields[0]} {options} shared:1 - ")
            table.write(f"{filesystem} {device} {super_options}\n")

    def label(self, device: str, label: str) -> None:
        """A label as udev links it."""
        (self.root / "dev/disk/by-label" / label.replace(" ", "\\x20")).symlink_to(f"../../{device}")
        (self.root / "dev" / device).touch()

    def _describe(self, name: str, folder: Path, megabytes: int) -> None:
        self._next += 1
        number = f"8:{self._next}"
        (folder / "dev").write_text(f"{number}\n")
        (folder / "size").write_text(f"{megabytes * 2048}\n")
        (self.root / "sys/class/block" / name).symlink_to(folder)
        (self.root / "sys/dev/block" / number).symlink_to(folder)

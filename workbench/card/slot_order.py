"""Whether a folder of a volume lists its names in the order in which they came.

FAT and exFAT keep names in slots; most other file systems sort them or scatter them. Behind FUSE a host calls
exFAT and NTFS by one name, `fuseblk`: there the volume's own first sector tells, or what udev read from it.
"""

from __future__ import annotations

import os

SLOT_ORDERED = frozenset({"vfat", "msdos", "exfat", "fuse.exfat", "fuse.exfat-fuse"})
"""File systems, as hosts name them, whose folders keep names in slots."""

_BEHIND_FUSE = "fuseblk"
_SORTED = b"NTFS    "
"""The name at byte 3 of an NTFS boot sector; exFAT has `EXFAT   ` there (exFAT specification 3.1.2)."""
_UDEV = "/run/udev/data"


def keeps_slots(filesystem: str, device: str, root: str) -> bool:
    """Whether folders there keep names in slots.

    Args:
        filesystem: as the host names it.
        device: the block device; may be one that cannot be read, or empty.
        root: where the volume is mounted.
    """
    kind = filesystem.lower()
    if kind != _BEHIND_FUSE:
        return kind in SLOT_ORDERED
    name = _read_sector(device)
    return name != _SORTED if name else _ask_udev(root) not in ("ntfs", "ntfs3")


def _read_sector(device: str) -> bytes:
    try:
        with open(device, "rb") as found:
            return found.read(11)[3:]
    except OSError:
        return b""


def _ask_udev(root: str) -> str:
    """The file system's type in udev's own notes, which anyone may read; `""` where there are none."""
    try:
        number = os.stat(root).st_dev
        with open(f"{_UDEV}/b{os.major(number)}:{os.minor(number)}", encoding="utf-8") as notes:
            return next(
                (line[len("E:ID_FS_TYPE=") :].strip() for line in notes if line.startswith("E:ID_FS_TYPE=")),
                "",
            )
    except (OSError, UnicodeDecodeError):
        return ""

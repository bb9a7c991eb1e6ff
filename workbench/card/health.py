"""The health of a card's volumes, as far as it can be seen without touching them. Only looks.

Linux says it in the mount table, in sysfs, and in the first sectors of the device, which need privileges.
What cannot be found out is said to be unknown, never taken for good.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from workbench.card.mounts import Mount, find_mount, read_mounts
from workbench.card.paths import VolumePath
from workbench.card.read_only import judge_read_only
from workbench.card.volumes import Card, Volume
from workbench.errors import CardError
from workbench.late_pattern import late_pattern
from workbench.typed import Literal
from workbench.values import dataclass, replace

Cleanness = Literal["clean", "dirty", "failing", "unknown"]
"""Of a file system: closed in order; not; not, and the medium refused to answer at some time."""

_LOST = late_pattern(r"FOUND\.\d{3}")
_FAT = ("vfat", "msdos", "fat", "fuseblk", "exfat")
_SECTOR = 512


@dataclass(frozen=True, slots=True)
class VolumeHealth:
    """What was found out about one volume."""

    role: str
    filesystem: str
    size_bytes: int
    free_bytes: int
    cluster_bytes: int
    read_only: str = ""
    """Why it is read-only; empty where it is not."""
    has_failed: bool = False
    """Whether the system made it read-only after an error."""
    error_count: int | None = None
    """ext4's own count; None elsewhere."""
    cleanness: Cleanness = "unknown"
    because: str = ""
    """Why that is unknown."""
    device_bytes: int | None = None
    """Size of the partition or card that it lies on; None where there is none, or it cannot be told."""
    stated_bytes: int | None = None
    """The size that the file system itself states in its first sector, where that could be read."""
    lost_folders: tuple[str, ...] = ()
    """`FOUND.000` and the like, which a disk check has made."""

    @property
    def is_larger_than_device(self) -> bool:
        """Whether the file system ends behind the end of its device."""
        said = max(self.stated_bytes or 0, self.size_bytes)
        return self.device_bytes is not None and said > self.device_bytes

    @property
    def signs(self) -> tuple[str, ...]:
        """Sentences about everything that is not as it should be."""
        return (*self.alarms, *((f"it {self.read_only}",) if self.read_only else ()))

    @property
    def alarms(self) -> tuple[str, ...]:
        """The same without that it is read-only, which may be on purpose."""
        said = []
        if self.has_failed or self.error_count:
            said.append("the system found errors in its file system")
        if self.cleanness == "dirty":
            said.append("it was not closed in order the last time it was written to")
        if self.cleanness == "failing":
            said.append("the card answered with errors at some time")
        if self.is_larger_than_device:
            said.append(
                "its file system is larger than the device that it lies on: what is at its end is lost"
            )
        if self.lost_folders:
            said.append(f"a disk check has found lost pieces of files on it ({', '.join(self.lost_folders)})")
        return tuple(said)


@dataclass(frozen=True, slots=True)
class KeptFault:
    """A copy that a change keeps and that cannot be had any more, or a change that cannot be read."""

    at: VolumePath
    """The file that the copy was of; the volume's root for a whole change."""
    number: int | None
    because: str


@dataclass(frozen=True, slots=True)
class OwnEdit:
    """The last content that a change of ours gave a file."""

    at: VolumePath
    number: int
    sha256: str


@dataclass(frozen=True, slots=True)
class LedgerHealth:
    """What the card's ledger says."""

    unfinished: str = ""
    """The change that began and did not end, in words."""
    faults: tuple[KeptFault, ...] = ()
    edits: tuple[OwnEdit, ...] = ()
    kept_bytes: int = 0


@dataclass(frozen=True, slots=True)
class CardHealth:
    """A card's volumes, and its ledger where that was looked at."""

    volumes: tuple[VolumeHealth, ...]
    ledger: LedgerHealth | None = None

    def with_ledger(self, ledger: LedgerHealth) -> CardHealth:
        """The same, with what the ledger says."""
        return replace(self, ledger=ledger)


def read_health(
    card: Card, mounts: Sequence[Mount] | None = None, sys_folder: Path = Path("/sys")
) -> CardHealth:
    """Look at every volume that is here; `mounts` and `sys_folder` are this computer's own."""
    known = read_mounts() if mounts is None else mounts
    return CardHealth(tuple(_read_volume(card, volume, known, sys_folder) for volume in card.present))


def _read_volume(card: Card, volume: Volume, mounts: Sequence[Mount], sys_folder: Path) -> VolumeHealth:
    root = os.path.realpath(volume.root)
    found = find_mount(mounts, root)
    own = found if found is not None and found.point == root else None
    health = VolumeHealth(
        volume.role,
        volume.filesystem,
        volume.size_bytes if own is not None else 0,
        volume.free_bytes,
        volume.cluster_bytes,
        read_only=_why_read_only(card, volume, mounts, sys_folder),
        has_failed=own is not None and _has_failed(own),
        lost_folders=_find_lost(root),
    )
    return health if own is None else _add_device(health, own, sys_folder)


def _why_read_only(card: Card, volume: Volume, mounts: Sequence[Mount], sys_folder: Path) -> str:
    if not volume.read_only:
        return ""
    try:
        return judge_read_only(card, volume.role, mounts, sys_folder).because
    except CardError:
        return "is read-only"


def _has_failed(mount: Mount) -> bool:
    """After an error the kernel makes the file system read-only and leaves the mount's own options."""
    return mount.has_failed or ("ro" not in mount.options and "ro" in mount.super_options)


def _find_lost(root: str) -> tuple[str, ...]:
    try:
        return tuple(sorted(name for name in os.listdir(root) if _LOST.fullmatch(name.upper())))
    except OSError:
        return ()


def _add_device(health: VolumeHealth, mount: Mount, sys_folder: Path) -> VolumeHealth:
    name = os.path.basename(os.path.realpath(mount.device)) if mount.device.startswith("/dev/") else ""
    size = _read_number(sys_folder / "class/block" / name / "size") if name else None
    errors = None
    if mount.filesystem.startswith("ext") and name:
        errors = _read_number(sys_folder / "fs/ext4" / name / "errors_count")
    health = replace(health, device_bytes=None if size is None else size * _SECTOR, error_count=errors)
    if mount.filesystem not in _FAT:
        return health
    first = _read_first(mount.device)
    if first is None:
        because = "the device's first sectors can only be read with privileges"
        return replace(health, because=because if name else "it lies on no device of its own")
    cleanness, because = judge_first_sector(first, mount.filesystem, is_writable=not mount.is_read_only)
    return replace(health, cleanness=cleanness, because=because, stated_bytes=stated_size(first))


def judge_first_sector(first: bytes, filesystem: str, *, is_writable: bool) -> tuple[Cleanness, str]:
    """Whether a FAT or exFAT was closed in order, and why that is unknown where it is.

    exFAT: VolumeFlags, bit 1 dirty, bit 2 failing (exFAT specification 3.1.13). FAT: bit 0 of the byte behind
    the drive number, which Linux and Windows set (`FAT_STATE_DIRTY` in the kernel's msdos_fs.h).
    """
    is_exfat = first[3:11] == b"EXFAT   "
    if not is_exfat and (first[510:512] != b"\x55\xaa" or first[11:13] == b"\0\0"):
        return "unknown", "its first sector is not that of a FAT"
    flags = int.from_bytes(first[106:108], "little") if is_exfat else 0
    if flags & 4:
        return "failing", ""
    if is_writable and not (is_exfat and filesystem == "exfat"):
        # Linux marks a FAT, and exfat-fuse an exFAT, for as long as it is mounted for writing; the kernel's
        # own exFAT does so only while something is being written.
        return "unknown", "it does not tell while it is mounted for writing"
    state = flags >> 1 if is_exfat else first[37] if first[22:24] != b"\0\0" else first[65]
    return ("dirty" if state & 1 else "clean"), ""


def stated_size(first: bytes) -> int | None:
    """Bytes that a FAT or exFAT says it has (FAT: BPB_TotSec16, BPB_TotSec32; exFAT: VolumeLength)."""
    if first[3:11] == b"EXFAT   ":
        return int.from_bytes(first[72:80], "little") << first[108]
    if first[510:512] != b"\x55\xaa":
        return None
    sector = int.from_bytes(first[11:13], "little")
    count = int.from_bytes(first[19:21], "little") or int.from_bytes(first[32:36], "little")
    return sector * count or None


def _read_first(device: str) -> bytes | None:
    try:
        handle = os.open(device, os.O_RDONLY | getattr(os, "O_CLOEXEC", 0) | getattr(os, "O_NONBLOCK", 0))
    except OSError:
        return None
    try:
        first = os.read(handle, _SECTOR)
    except OSError:
        return None
    finally:
        os.close(handle)
    return first if len(first) == _SECTOR else None


def _read_number(file: Path) -> int | None:
    try:
        return int(file.read_text())
    except (OSError, ValueError):
        return None

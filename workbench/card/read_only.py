"""Why a volume is read-only, and whether it may be opened for writing with a person's consent.

Only one that somebody mounted so on purpose may. Wherever there is a sign of an error, of a locked medium, or
of a file system that does not keep what is written, the answer is no.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from pathlib import Path

from workbench.card.mounts import Mount, find_mount, read_mounts
from workbench.card.system_disks import SYSTEM_POINTS
from workbench.card.volumes import Card, Volume
from workbench.shown import shown
from workbench.values import dataclass

_LAYERED = (
    "is an overlay: what is written there goes into a layer above it, which is lost when the device starts "
    "again and never reaches the card"
)
_IN_MEMORY = "is in memory: what is written there is gone when the device starts again"
_MADE_WHOLE = (
    "is of a kind ({}) that is made as a whole and cannot be written to; a change needs a new image of it"
)
_NEVER = {
    **dict.fromkeys(("overlay", "overlayfs", "aufs", "unionfs"), _LAYERED),
    **dict.fromkeys(("tmpfs", "ramfs", "rootfs"), _IN_MEMORY),
    **dict.fromkeys(("squashfs", "erofs", "cramfs", "romfs", "iso9660", "udf"), _MADE_WHOLE),
}


@dataclass(frozen=True, slots=True)
class ReadOnly:
    """What was found out about one read-only volume."""

    role: str
    can_open: bool
    because: str
    """What comes after `the volume X`: why it is read-only, or why it cannot be opened."""
    mount: Mount | None
    on_purpose: bool = False
    """Whether the profile says that the device mounts it so."""


def judge_read_only(
    card: Card, role: str, mounts: Sequence[Mount] | None = None, sys_folder: Path = Path("/sys")
) -> ReadOnly:
    """Why a read-only volume is so. Only looks; `mounts` and `sys_folder` are this computer's own.

    Raises:
        CardError: the volume is absent.
    """
    volume = card.volume(role)
    known = read_mounts() if mounts is None else mounts
    mount = find_mount(known, os.path.realpath(volume.root))
    on_purpose = _says_on_purpose(card, role)
    why = _find_refusal(card, volume, mount, sys_folder, on_purpose=on_purpose)
    if why is not None:
        return ReadOnly(role, False, why, mount, on_purpose)
    said = ", as the device's own profile says it is on purpose" if on_purpose else ""
    return ReadOnly(role, True, f"is mounted read-only{said}", mount, on_purpose)


def _says_on_purpose(card: Card, role: str) -> bool:
    rule = card.profile.volumes.get(role) if card.profile is not None else None
    return rule is not None and rule.read_only_on_purpose


def _find_refusal(
    card: Card, volume: Volume, mount: Mount | None, sys_folder: Path, *, on_purpose: bool
) -> str | None:
    filesystem = (mount.filesystem if mount is not None else volume.filesystem).lower()
    if filesystem in _NEVER and (mount is None or mount.is_read_only):
        return _NEVER[filesystem].format(filesystem)
    if mount is None or not mount.is_read_only:
        return "is read-only to you: you have no right to write there"
    if not sys.platform.startswith("linux"):
        return "is mounted read-only, and on this system it can only be opened by the system's own means"
    error = _find_error(mount, sys_folder, on_purpose=on_purpose)
    return error or _find_lock(card, mount, sys_folder, on_purpose=on_purpose)


def _find_error(mount: Mount, sys_folder: Path, *, on_purpose: bool) -> str | None:
    """The signs that the system made it read-only because of an error.

    After an error the kernel makes the file system read-only and leaves the mount itself as it was, while
    `mount -o ro` sets both (`__ext4_error` and `fat_fs_error` of the Linux drivers). ext4 counts errors.
    """
    failed = (
        "became read-only after an error: writing to it now could destroy what is on it. Make a copy of the "
        "card, then check the volume with fsck while it is not mounted"
    )
    if mount.has_failed or ("ro" not in mount.options and "ro" in mount.super_options):
        return failed
    if not mount.filesystem.startswith("ext"):
        return None
    name = os.path.basename(os.path.realpath(mount.device))
    count = _read_number(sys_folder / "fs/ext4" / name / "errors_count")
    if count:
        return failed
    if count is None and not on_purpose:
        return "is mounted read-only, and whether that is because of an error cannot be found out here"
    return None


def _find_lock(card: Card, mount: Mount, sys_folder: Path, *, on_purpose: bool) -> str | None:
    number = _device_number(mount)
    if _read_number(sys_folder / "dev/block" / number / "ro"):
        return "is locked: a card has a small lock switch on its side; slide it and put the card in again"
    is_own = card.source == "device" and on_purpose
    if mount.point in SYSTEM_POINTS and not is_own:
        return f"lies on {shown(mount.point)} of the running system, which is not opened for a card"
    return None


def _device_number(mount: Mount) -> str:
    """`MAJOR:MINOR` of the block device; a file system in user space has a number of its own."""
    try:
        device = os.stat(mount.device).st_rdev
    except OSError:
        return mount.number
    return f"{os.major(device)}:{os.minor(device)}" if device else mount.number


def _read_number(file: Path) -> int | None:
    try:
        return int(file.read_text())
    except (OSError, ValueError):
        return None

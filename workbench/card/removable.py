"""Cards in readers and slots: the volumes of one medium are one card.

Linux asks sysfs (`blocks`). A loop device, a file that stands for a medium, is offered only where a
profile matches. Elsewhere psutil's mounts have to do.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Collection, Iterable, Iterator, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.identify import match_card
from workbench.card.making import make_card, make_known_card, make_unknown_card
from workbench.card.mounts import Mount
from workbench.card.profile import Profile
from workbench.card.volumes import Card, Volume
from workbench.late_pattern import late_pattern
from workbench.shown import shown

_CARD_FILESYSTEMS = ("msdos", "exfat", "vfat", "fat", "fat32", "fat16")
_MAC_DISK = late_pattern(r"(/dev/disk\d+)(s\d+)?")


def find_removable(
    profiles: Sequence[Profile], computer: Computer, only: Collection[str] = ()
) -> tuple[Card, ...]:
    """The cards that are in this computer now; with `only`, those on these disks, and no other is touched."""
    if computer.blocks.list_disks():
        return tuple(_find_by_sysfs(profiles, computer, only))
    return tuple(_find_by_mounts(profiles, computer))


def _find_by_sysfs(profiles: Sequence[Profile], computer: Computer, only: Collection[str]) -> Iterator[Card]:
    for disk in computer.blocks.list_disks():
        if disk in computer.system_disks or (only and disk not in only):
            continue
        if computer.blocks.is_card(disk):
            card = _make_of_disk(disk, profiles, computer)
        elif computer.blocks.is_loop(disk):
            card = _make_of_loop(disk, profiles, computer)
        else:
            continue
        if card is not None:
            yield card


def _make_of_disk(disk: str, profiles: Sequence[Profile], computer: Computer) -> Card | None:
    """None where the reader is empty."""
    roots = [Path(mount.point) for mount in computer.mounts_on(disk)]
    unmounted = _find_unmounted(disk, computer)
    notes = tuple(map(_describe_unmounted, unmounted))
    if roots:
        match, about = match_card(profiles, roots)
        if match is not None:
            return make_known_card(match, computer, "removable", notes=notes + about)
        return make_unknown_card(roots, computer, "removable", notes=notes + about, absent=unmounted)
    if unmounted:
        return make_unknown_card([], computer, "removable", notes=notes, absent=unmounted)
    return None


def _make_of_loop(disk: str, profiles: Sequence[Profile], computer: Computer) -> Card | None:
    roots = [Path(mount.point) for mount in computer.mounts_on(disk)]
    card = make_card(profiles, roots, computer, "removable") if roots else None
    return card if card is not None and card.profile is not None else None


def _find_unmounted(disk: str, computer: Computer) -> tuple[Volume, ...]:
    """The partitions of a medium that are not mounted, by any road."""
    mounted = computer.mounts_on(disk)
    used = {name for one in mounted for name in computer.blocks.find_names(one.device, one.number)}
    return tuple(
        Volume.absent(part.name, label=computer.labels.get(part.name, ""), device=f"/dev/{part.name}")
        for part in computer.blocks.partitions(disk)
        if part.name not in used and not (part.name == disk and mounted)
    )


def _describe_unmounted(volume: Volume) -> str:
    label = f" ({shown(volume.label)})" if volume.label else ""
    return f"{volume.device}{label} is on this medium and not mounted; mount it to work on it."


def _find_by_mounts(profiles: Sequence[Profile], computer: Computer) -> Iterator[Card]:
    for mounts in _group(computer.mounts).values():
        roots = [Path(mount.point) for mount in mounts]
        card = make_card(profiles, roots, computer, "removable", name=roots[0].name)
        if card.profile is not None or all(_is_surely_removable(mount) for mount in mounts):
            yield card


def _group(mounts: Iterable[Mount]) -> dict[str, list[Mount]]:
    groups: dict[str, list[Mount]] = {}
    for mount in mounts:
        if _may_be_removable(mount):
            found = _MAC_DISK.match(mount.device)
            groups.setdefault(found[1] if found else mount.device, []).append(mount)
    return groups


def _may_be_removable(mount: Mount) -> bool:
    """macOS mounts cards below /Volumes; on Windows a slot may say `fixed`, the system drive never counts."""
    if sys.platform == "win32":
        system = os.environ.get("SYSTEMDRIVE", "C:").upper()
        return not mount.point.upper().startswith(system) and bool(
            {"removable", "fixed"} & set(mount.options)
        )
    return mount.point.startswith("/Volumes/")


def _is_surely_removable(mount: Mount) -> bool:
    return "removable" in mount.options or mount.filesystem.lower() in _CARD_FILESYSTEMS

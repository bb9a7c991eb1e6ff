"""Which disks carry the running system. None of these is ever offered as a card."""

from __future__ import annotations

import os
from collections.abc import Iterable

from workbench.card.blocks import Blocks
from workbench.card.mounts import Mount, find_mount

SYSTEM_POINTS = ("/", "/boot", "/boot/efi", "/boot/firmware", "/efi", "/home", "/usr", "/var", "/opt", "/nix")


def find_system_disks(
    mounts: tuple[Mount, ...], blocks: Blocks, points: Iterable[str] = SYSTEM_POINTS
) -> frozenset[str]:
    """Names of the disks under the system's own mount points, followed to the bottom.

    Through LUKS, LVM and RAID by sysfs; through a loop device by the mount that holds its file; through an
    overlay by its layers.
    """
    found: set[str] = set()
    for mount in mounts:
        if mount.point in points:
            found |= find_disks_below(mount, mounts, blocks)
    return frozenset(found)


def find_disks_below(
    mount: Mount, mounts: tuple[Mount, ...], blocks: Blocks, seen: frozenset[str] = frozenset()
) -> frozenset[str]:
    """The disks that a mount lies on, loop devices themselves included."""
    if mount.point in seen:
        return frozenset()
    seen |= {mount.point}
    disks = set(blocks.find_disks(mount.device, mount.number))
    files = [file for disk in disks if (file := blocks.backing_file(disk))]
    for path in (*files, *_overlay_layers(mount)):
        under = find_mount((one for one in mounts if one.point not in seen), path)
        if under is not None:
            disks |= find_disks_below(under, mounts, blocks, seen)
    return frozenset(disks)


def _overlay_layers(mount: Mount) -> tuple[str, ...]:
    layers: list[str] = []
    for option in mount.super_options if mount.filesystem == "overlay" else ():
        key, _, value = option.partition("=")
        if key.rstrip("+") in ("lowerdir", "upperdir", "datadir"):
            layers += (os.path.normpath(layer) for layer in value.split(":") if layer.startswith("/"))
    return tuple(layers)

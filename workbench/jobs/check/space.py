"""Rules about room: little of it left, and the fixed root folder of a FAT16."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.health import VolumeHealth
from workbench.card.names import count_units
from workbench.card.paths import VolumePath
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule

LOW = Rule("low-space", "warning", "is nearly full")
FULL_ROOT = Rule("full-root-folder", "warning", "has hardly any places left in its root folder")
RULES = (LOW, FULL_ROOT)

LEAST_SHARE = 100
"""Below one part in so many, and below `LEAST_BYTES`, a volume is nearly full."""
LEAST_BYTES = 64 * 1024 * 1024
LEAST_CLUSTERS = 64
FAT16_ROOT = 512
"""Entries of a FAT16 root folder as it is usually made (BPB_RootEntCnt; Microsoft FAT specification 1.03)."""
_FAT16_CLUSTERS = range(4085, 65525)
"""A FAT with so many clusters is a FAT16, and no other is (Microsoft FAT specification 1.03)."""


def find(card: CheckedCard) -> Iterator[Finding]:
    """Volume by volume."""
    for volume in card.health.volumes if card.health is not None else ():
        if volume.role in card.roles:
            yield from _find_low(volume)
            yield from _find_full_root(card, volume)


def _find_low(volume: VolumeHealth) -> Iterator[Finding]:
    if volume.size_bytes <= 0 or volume.read_only:
        return
    is_little = volume.free_bytes < min(volume.size_bytes // LEAST_SHARE, LEAST_BYTES)
    if is_little or volume.free_bytes < LEAST_CLUSTERS * volume.cluster_bytes:
        message = "has so little room left that a change may not find enough to keep what it replaces"
        yield LOW.found(VolumePath(volume.role, ""), message)


def _find_full_root(card: CheckedCard, volume: VolumeHealth) -> Iterator[Finding]:
    if not is_fat16(volume):
        return
    taken = 1 + sum(count_slots(name) for name, _ in card.folders(volume.role).get("", ()))
    if taken > FAT16_ROOT * 9 // 10:
        message = f"its root folder takes about {taken} of the {FAT16_ROOT} places that a FAT16 has there"
        yield FULL_ROOT.found(VolumePath(volume.role, ""), message)


def is_fat16(volume: VolumeHealth) -> bool:
    """Whether it is a FAT16, by its number of clusters."""
    if volume.filesystem not in ("vfat", "msdos", "fat") or volume.cluster_bytes <= 0:
        return False
    return volume.size_bytes // volume.cluster_bytes in _FAT16_CLUSTERS


def count_slots(name: str) -> int:
    """Places that a name takes in a folder of FAT: one, and one for each 13 UTF-16 units of a long name."""
    stem, _, suffix = name.partition(".")
    is_short = (
        name.isascii()
        and name == name.upper()
        and 0 < len(stem) <= 8
        and len(suffix) <= 3
        and "." not in suffix
        and not set(name) & set(" +,;=[]")
    )
    return 1 if is_short else -(-count_units(name) // 13) + 1

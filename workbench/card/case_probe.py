"""Finds out how the host tells names apart on a volume, without writing there."""

from __future__ import annotations

import os
from collections.abc import Iterable

from workbench.card.profile import NamesRule

_CASELESS = frozenset(
    [
        "vfat",
        "msdos",
        "fat",
        "fat32",
        "exfat",
        "fuse.exfat",
        "fuse.exfat-fuse",
        "ntfs",
        "ntfs3",
        "fuseblk",
        "hfs",
        "hfsplus",
        "apfs",
    ]
)
_FOLDERS = 8
"""How many folders are looked into before the file system's type has to do."""


def probe_case(root: str, filesystem: str) -> tuple[NamesRule, bool]:
    """The host's rule for names, and whether something there told (False: taken from the type).

    Asks for a name that is there in swapped case. Inode numbers are not compared: FUSE gives one file
    two of them under two spellings.
    """
    for folder in _some_folders(root):
        rule = _probe_folder(folder)
        if rule is not None:
            return rule, True
    return ("fat" if filesystem.lower() in _CASELESS else "exact"), False


def _probe_folder(folder: str) -> NamesRule | None:
    try:
        names = os.listdir(folder)
    except OSError:
        return None
    there = set(names)
    for name in names:
        swapped = _swap(name)
        if swapped == name:
            continue
        if swapped in there:
            return "exact"
        return "fat" if os.path.lexists(f"{folder}/{swapped}") else "exact"
    return None


def _swap(name: str) -> str:
    """ASCII letters only: whether a host folds the others is not the question."""
    return "".join(char.swapcase() if char.isascii() else char for char in name)


def _some_folders(root: str) -> Iterable[str]:
    yield root
    try:
        with os.scandir(root) as found:
            below = [one.path for one in found if one.is_dir(follow_symlinks=False)]
    except OSError:
        return
    yield from below[:_FOLDERS]

"""The links on a card: where each leads. FAT and exFAT have none; a card in a folder or on ext4 may."""

from __future__ import annotations

import os
from collections.abc import Iterator

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.values import dataclass

_NO_LINKS = ("vfat", "msdos", "exfat", "fat")
"""File systems that cannot hold a link."""


@dataclass(frozen=True, slots=True)
class Link:
    """One link."""

    at: VolumePath
    to: VolumePath | None
    """Where it leads; None where that cannot be followed or is not there."""
    because: str = ""
    """Why not."""


def find_links(tree: Tree, volume: str) -> tuple[Link, ...]:
    """Every link of a volume that is present."""
    return tuple(_follow(tree, at) for at in _list_links(tree, volume))


def _follow(tree: Tree, at: VolumePath) -> Link:
    try:
        to = tree.resolve(at)
        if tree.stat(to) is None:
            return Link(at, None, "leads to nothing")
    except CardError as error:
        circle = "circle" in error.message
        because = "leads in a circle" if circle else "leads out of the volume, or to nothing"
        return Link(at, None, "leads out of the volume" if "out of" in error.message else because)
    return Link(at, to)


def _list_links(tree: Tree, volume: str) -> Iterator[VolumePath]:
    if not isinstance(tree, DiskTree):
        below = getattr(tree, "tree", None)
        if isinstance(below, DiskTree) and below.card.volume(volume).filesystem in _NO_LINKS:
            return
        yield from (item.at for item in _walk(tree, volume) if item.kind == "link")
        return
    there = tree.card.volume(volume)
    if there.filesystem in _NO_LINKS:
        return
    root = os.fspath(there.root)
    waiting = [""]
    while waiting:
        folder = waiting.pop()
        try:
            with os.scandir(f"{root}/{folder}") as found:
                for one in found:
                    path = f"{folder}/{one.name}" if folder else one.name
                    if one.is_symlink():
                        yield VolumePath(volume, path)
                    elif one.is_dir(follow_symlinks=False) and path != LEDGER_FOLDER:
                        waiting.append(path)
        except OSError:
            continue


def _walk(tree: Tree, volume: str) -> Iterator:  # type: ignore[type-arg]
    try:
        yield from tree.walk(VolumePath(volume, ""))
    except CardError:
        return

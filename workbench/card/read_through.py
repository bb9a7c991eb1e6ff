"""Reads a file to its end without holding it: whether the card still gives all of it."""

from __future__ import annotations

import os

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree

_PIECE = 1024 * 1024
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


def read_through(tree: Tree, at: VolumePath) -> int:
    """Bytes that could be read of a plain file in a folder that was listed (no link is on the way).

    Raises:
        OSError, CardError: the card does not give it.
    """
    if not isinstance(tree, DiskTree):
        return len(tree.read(at))
    handle = os.open(tree.card.volume(at.volume).root / at.path, _READ)
    try:
        count = 0
        while piece := os.read(handle, _PIECE):
            count += len(piece)
        return count
    finally:
        os.close(handle)

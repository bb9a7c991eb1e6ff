"""Reads the files of a card by the thousand: one open, one read, one close for each, nothing followed.

For any other tree than the card itself, the tree reads.
"""

from __future__ import annotations

import os
import stat
from collections.abc import Iterable, Iterator, Mapping

from workbench.card.paths import VolumePath
from workbench.errors import CardError
from workbench.manifests.document import MAX_BYTES
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.tree import Tree

_FIRST = 64 * 1024
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class TooLarge(Exception):
    """The file is over the size of a manifest; `is_text` says what its head looks like."""

    def __init__(self, is_text: bool) -> None:
        super().__init__()
        self.is_text = is_text


class Contents:
    """Whole files of one tree. Paths come from the tree's own walk, so no link is on the way to them.

    Without a tree: files below the host folders in `roots`, by volume; no other volume is asked for.
    """

    def __init__(self, tree: Tree | None = None, *, roots: Mapping[str, str] | None = None) -> None:
        self._tree = tree
        self._roots: Mapping[str, str] = roots or getattr(tree, "host_roots", {})

    def read(self, volume: str, path: str) -> bytes | None:
        """A file's bytes; None where it is a link, no plain file, or cannot be read.

        Raises:
            TooLarge: it is over `MAX_BYTES`.
        """
        root = self._roots.get(volume)
        if root is None:
            return self._read_by_tree(VolumePath(volume, path))
        try:
            handle = os.open(f"{root}/{path}", _READ)
        except OSError:
            return None
        try:
            raw = os.read(handle, _FIRST)
            return raw if len(raw) < _FIRST else self._read_rest(handle, raw)
        except OSError:
            return None
        finally:
            os.close(handle)

    def read_folder(
        self, volume: str, folder: str, names: Iterable[str]
    ) -> Iterator[tuple[str, bytes | TooLarge]]:
        """Each readable file of a folder with its bytes; links and what is no plain file are passed by."""
        root = self._roots.get(volume)
        prefix = f"{folder}/" if folder else ""
        if root is None:
            for name in names:
                yield from self._read_one(volume, prefix, name)
            return
        here = f"{root}/{prefix}"
        do_open, do_read, do_close = os.open, os.read, os.close
        for name in names:
            try:
                handle = do_open(here + name, _READ)
            except OSError:
                continue
            try:
                raw = do_read(handle, _FIRST)
            except OSError:
                raw = b""
            do_close(handle)
            if len(raw) < _FIRST:
                yield name, raw
            else:
                yield from self._read_one(volume, prefix, name)

    def _read_one(self, volume: str, prefix: str, name: str) -> Iterator[tuple[str, bytes | TooLarge]]:
        try:
            raw = self.read(volume, prefix + name)
        except TooLarge as large:
            yield name, large
        else:
            if raw is not None:
                yield name, raw

    def _read_rest(self, handle: int, head: bytes) -> bytes | None:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            return None
        if found.st_size > MAX_BYTES:
            raise TooLarge(b"\0" not in head)
        pieces = [head]
        while pieces[-1]:
            pieces.append(os.read(handle, 1024 * 1024))
        return b"".join(pieces)

    def _read_by_tree(self, at: VolumePath) -> bytes | None:
        if self._tree is None:
            return None
        try:
            item = self._tree.stat(at)
            if item is None or item.kind != "file":
                return None
            if item.size > MAX_BYTES:
                raise TooLarge(b"\0" not in self._tree.read(at, _FIRST))
            return self._tree.read(at)
        except CardError:
            return None

"""A scout: a child process that walks a card and looks through its files while this one gets ready.

A short command spends most of its time on becoming able to work; meanwhile a second processor can do what
needs no more than a listing and a few byte strings. The scout only reads, and only says what this process
would find by itself: where there is none, or it fails, nobody misses anything but time.
"""

from __future__ import annotations

import marshal
import os
import sys
from collections.abc import Mapping
from typing import Any, NoReturn

from workbench.card.contents import Contents
from workbench.card.disk_tree import DiskTree
from workbench.card.sweep import Hit, list_texts, make_needles, sweep
from workbench.card.tree import Listing

_PIPE_BYTES = 1024 * 1024
"""So much may wait in the pipe, where the system lets us say so, before the scout waits for its reader."""

_SIGKILL = 9
"""As POSIX numbers it; to import `signal` for that takes a millisecond."""

Walks = Mapping[str, Mapping[str, Listing]]
"""Listings by volume and folder."""


class Scout:
    """Sent ahead for one search of one tree; use it as a context, at whose end it is gone."""

    def __init__(self, tree: DiskTree, name: str) -> None:
        self._tree = tree
        self._needles = make_needles(name)
        self._child = 0
        self._pipe = -1

    def __enter__(self) -> Scout:
        if _can_fork():
            self._start()
            self._tree.scout = self
        return self

    def __exit__(self, *_: object) -> None:
        self._tree.scout = None
        if self._child:
            os.close(self._pipe)
            os.kill(self._child, _SIGKILL)
            os.waitpid(self._child, 0)
            self._child = 0

    def walks(self) -> Walks | None:
        """Every name on every volume, as the tree itself would list it; to be asked first, and once."""
        walks: Walks | None = self._receive()
        return walks

    def hits(self, needles: tuple[bytes, bytes]) -> list[Hit] | None:
        """The files, ruled ones too, that hold one of the needles or are too large to tell.

        None where it was sent for other needles, or did not come to its end.
        """
        if needles != self._needles:
            return None
        hits: list[Hit] | None = self._receive()
        return hits

    def _start(self) -> None:
        pipe, out = os.pipe()
        try:
            child = os.fork()
        except OSError:
            os.close(pipe)
            os.close(out)
            return
        if child == 0:
            self._report(out)
        os.close(out)
        self._child, self._pipe = child, pipe

    def _report(self, out: int) -> NoReturn:
        """In the child: write what was found, and end without any of the parent's own endings."""
        try:
            _widen(out)
            walks = {volume: self._tree.walk_folders(volume) for volume in self._tree.roles()}
            _send(out, walks)
            folders = (
                (volume, folder, list_texts(listing))
                for volume, listings in walks.items()
                for folder, listing in listings.items()
            )
            _send(out, list(sweep(Contents(self._tree), folders, self._needles)))
            os._exit(0)
        finally:
            os._exit(1)

    def _receive(self) -> Any:
        """The next thing that the child sends; None where there is no child, or it came to a bad end."""
        if not self._child:
            return None
        size = int.from_bytes(_read(self._pipe, 8), "little")
        raw = _read(self._pipe, size)
        return marshal.loads(raw) if size and len(raw) == size else None


def _widen(pipe: int) -> None:
    if sys.platform.startswith("linux"):
        import fcntl

        try:
            fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, _PIPE_BYTES)
        except OSError:
            return  # it works as it is, only with more waiting


def _send(pipe: int, value: Any) -> None:
    raw = marshal.dumps(value)
    left = memoryview(len(raw).to_bytes(8, "little") + raw)
    while left:
        left = left[os.write(pipe, left) :]


def _read(pipe: int, size: int) -> bytes:
    """So many bytes; fewer where the child has ended."""
    pieces: list[bytes] = []
    while size > 0 and (piece := os.read(pipe, min(size, _PIPE_BYTES))):
        pieces.append(piece)
        size -= len(piece)
    return b"".join(pieces)


def _can_fork() -> bool:
    """Whether a forked child is safe (no other thread holds a lock) and would find a processor."""
    threading = sys.modules.get("threading")  # where nobody has imported it, nobody has started a thread
    is_alone = threading is None or threading.active_count() == 1
    return hasattr(os, "fork") and is_alone and _count_processors() > 1


def _count_processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

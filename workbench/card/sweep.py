"""Looks through the many files that no rule covers, for a few byte strings, beside the reader's other work.

Where the system can fork, nobody else runs in this process and a second processor is free, a child does it;
else it is done when the answer is asked for. The child only reads, and only says which files to look at.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence
from typing import NoReturn

from workbench.card.contents import Contents, TooLarge

Folder = tuple[str, str, Sequence[str]]
"""Volume, folder, and the names in it."""

Hit = tuple[str, str]
"""Volume and path."""

_WORTH_A_CHILD = 1000
"""Files below which a child costs more than it saves (measured: a fork takes about 2 ms, a file 7 µs)."""


class Sweep:
    """One pass over files; started at once, answered by `finish`. Use it as a context."""

    def __init__(self, contents: Contents, folders: Sequence[Folder], needles: Sequence[bytes]) -> None:
        self._contents = contents
        self._folders = folders
        self._needles = needles
        self._child = 0
        self._pipe = -1

    def __enter__(self) -> Sweep:
        if sum(len(names) for _, _, names in self._folders) >= _WORTH_A_CHILD and _can_fork():
            self._start()
        return self

    def __exit__(self, *_: object) -> None:
        if self._child:
            os.close(self._pipe)
            os.waitpid(self._child, 0)
            self._child = 0

    def finish(self) -> list[Hit]:
        """The files that hold one of the needles or are too large to tell, in the order given."""
        answer = self._receive() if self._child else None
        return list(self._look()) if answer is None else answer

    def _look(self) -> Iterator[Hit]:
        for volume, folder, names in self._folders:
            prefix = f"{folder}/" if folder else ""
            for name, raw in self._contents.read_folder(volume, folder, names):
                if isinstance(raw, TooLarge) or any(needle in raw for needle in self._needles):
                    yield volume, prefix + name

    def _start(self) -> None:
        pipe, out = os.pipe()
        try:
            child = os.fork()
        except OSError:
            os.close(pipe)
            os.close(out)
            return
        if child == 0:
            self._answer(out)
        os.close(out)
        self._child, self._pipe = child, pipe

    def _answer(self, out: int) -> NoReturn:
        """In the child: write the hits, and end without any of the parent's own endings."""
        try:
            text = "".join(f"{volume}\0{path}\0" for volume, path in self._look())
            with os.fdopen(out, "wb") as pipe:
                pipe.write(text.encode("utf-8", "surrogateescape"))
            os._exit(0)
        finally:
            os._exit(1)

    def _receive(self) -> list[Hit] | None:
        """The child's answer; None where it did not come to its end."""
        with os.fdopen(self._pipe, "rb") as pipe:
            raw = pipe.read()
        _, status = os.waitpid(self._child, 0)
        self._child = 0
        if status != 0:
            return None
        parts = raw.decode("utf-8", "surrogateescape").split("\0")
        return list(zip(parts[0:-1:2], parts[1::2], strict=True))


def _can_fork() -> bool:
    """Whether a forked child is safe (no other thread holds a lock) and would find a processor."""
    threading = sys.modules.get("threading")  # where nobody has imported it, nobody has started a thread
    is_alone = threading is None or threading.active_count() == 1
    return hasattr(os, "fork") and is_alone and _count_processors() > 1


def _count_processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

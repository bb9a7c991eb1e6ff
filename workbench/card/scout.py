"""A scout: a child process that walks a card and looks through its files while this one gets ready.

A short command spends most of its time on becoming able to work; meanwhile a second processor can do what
needs no more than a listing and a few byte strings. The scout only reads, and only says what this process
would find by itself: where there is none, or it fails, nobody misses anything but time.
"""

from __future__ import annotations

import marshal
import os
import sys
from collections.abc import Iterator, Mapping
from contextlib import suppress

from workbench.card.contents import Contents
from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.card.sweep import Folder, Hit, list_texts, make_needles, sweep
from workbench.card.tree import Listing
from workbench.typed import Any, NoReturn

_PIPE_BYTES = 1024 * 1024
"""So much may wait in the pipe, where the system lets us say so, before the scout waits for its reader."""

_LONGEST = 4096
"""Bytes of a name; a pipe hands over so many at once (POSIX: at least 512)."""

_SIGKILL = 9
"""As POSIX numbers it; to import `signal` for that takes a millisecond."""

Walks = Mapping[str, Mapping[str, Listing]]
"""Listings by volume and folder."""


class Scout:
    """Sent ahead for one search of one tree; use it as a context, at whose end it is gone."""

    def __init__(self, tree: DiskTree, profile: Profile) -> None:
        self._tree = tree
        self._endings = _find_endings(profile)
        self._name = ""
        self._child = 0
        self._pipe = self._order = -1

    def __enter__(self) -> Scout:
        if _can_fork():
            self._start()
            self._tree.scout = self
        return self

    def __exit__(self, *_: object) -> None:
        self._tree.scout = None
        if self._child:
            os.close(self._pipe)
            os.close(self._order)
            os.kill(self._child, _SIGKILL)
            os.waitpid(self._child, 0)
            self._child = 0

    def look_for(self, name: str) -> None:
        """Say for which name it shall look through the files once it has walked; to be said once."""
        self._name = name
        if self._child:
            with suppress(BrokenPipeError):  # it has failed already: there will be no answer
                os.write(self._order, name.encode("utf-8", "surrogatepass"))

    def walks(self) -> Walks | None:
        """Every name on every volume, as the tree itself would list it; to be asked first, and once."""
        walks: Walks | None = self._receive()
        return walks

    def hits(self, name: str) -> tuple[list[Hit], list[Hit]] | None:
        """The files that hold the name or are too large to tell; and those that it has not looked through.

        These are called as ruled files are, which are read here anyway. None where it was sent for another
        name, or did not come to its end.
        """
        if name != self._name:
            return None
        hits: tuple[list[Hit], list[Hit]] | None = self._receive()
        return hits

    def _start(self) -> None:
        (pipe, out), (take, order) = os.pipe(), os.pipe()
        try:
            child = os.fork()
        except OSError:
            for end in (pipe, out, take, order):
                os.close(end)
            return
        if child == 0:
            os.close(order)
            self._report(take, out)
        os.close(out)
        os.close(take)
        self._child, self._pipe, self._order = child, pipe, order

    def _report(self, take: int, out: int) -> NoReturn:
        """In the child: write what was found, and end without any of the parent's own endings."""
        try:
            _widen(out)
            walks = {volume: self._tree.walk_folders(volume) for volume in self._tree.roles()}
            _send(out, walks)
            name = os.read(take, _LONGEST).decode("utf-8", "surrogatepass")
            if not name:  # nobody asks any more
                os._exit(1)
            left: list[Hit] = []
            folders = self._list_folders(walks, left)
            _send(out, (list(sweep(Contents(self._tree), folders, make_needles(name))), left))
            os._exit(0)
        finally:
            os._exit(1)

    def _list_folders(self, walks: Walks, left: list[Hit]) -> Iterator[Folder]:
        """The files to look through, and into `left` those that are not."""
        for volume, listings in walks.items():
            for folder, listing in listings.items():
                names = list_texts(listing)
                found = [name for name in names if not name.endswith(self._endings)]
                if len(found) < len(names):
                    prefix = f"{folder}/" if folder else ""
                    left += [(volume, prefix + name) for name in names if name.endswith(self._endings)]
                yield volume, folder, found

    def _receive(self) -> Any:
        """The next thing that the child sends; None where there is no child, or it came to a bad end."""
        if not self._child:
            return None
        size = int.from_bytes(_read(self._pipe, 8), "little")
        raw = _read(self._pipe, size)
        return marshal.loads(raw) if size and len(raw) == size else None


def _find_endings(profile: Profile) -> tuple[str, ...]:
    """How the names of ruled files end: what stands behind the last wildcard or placeholder."""
    names = (rule.file.path.rpartition("/")[2] for menu in profile.menus for rule in menu.references)
    endings = {name[max(map(name.rfind, "*?]}")) + 1 :] for name in names}
    return tuple(endings - {""})


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

"""A scout: a child process that walks a card and looks through its files while this one gets ready.

A short command spends most of its time on becoming able to work; meanwhile a second processor can do what
needs no more than a listing and a few byte strings. The scout only reads, and only says what this process
would find by itself: where there is none, or it fails, nobody misses anything but time.
"""

from __future__ import annotations

import marshal
import os
import sys
from collections.abc import Iterable, Mapping
from contextlib import suppress

from workbench.card.contents import Contents
from workbench.card.disk_tree import DiskTree
from workbench.card.profile import NamesRule, Profile
from workbench.card.sweep import Folder, Hit, list_texts, make_needles, sweep
from workbench.card.tree import Listing
from workbench.manifests.document import Format
from workbench.typed import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from workbench.card.needle import Needle

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
        self._formats = _find_endings(profile)
        self._endings = tuple({ending for ending, _ in self._formats})
        self._wanted: tuple[str, str] | None = None
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

    def look_for(self, name: str, rule: NamesRule) -> None:
        """Say for which name it shall look through the files once it has walked; to be said once."""
        self._wanted = name, rule
        if self._child:
            with suppress(BrokenPipeError):  # it has failed already: there will be no answer
                os.write(self._order, f"{rule}\0{name}".encode("utf-8", "surrogatepass"))

    def walks(self) -> Walks | None:
        """Every name on every volume, as the tree itself would list it; to be asked first, and once."""
        walks: Walks | None = self._receive()
        return walks

    def ruled(self, name: str, rule: NamesRule) -> tuple[list[Hit], dict[Hit, tuple[Format, ...]]] | None:
        """The files that are called as ruled files are; and the formats in which some of them cannot name it.

        To be asked second. None where it was sent for another name, or came to a bad end.
        """
        found: tuple[list[Hit], dict[Hit, tuple[Format, ...]]] | None
        found = self._receive() if self._wanted == (name, rule) else None
        return found

    def hits(self) -> list[Hit] | None:
        """The other files that hold the name or are too large to tell; to be asked last."""
        hits: list[Hit] | None = self._receive()
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
            rule, _, name = os.read(take, _LONGEST).decode("utf-8", "surrogatepass").partition("\0")
            if not name:  # nobody asks any more
                os._exit(1)
            from workbench.card.needle import Needle

            contents, needle = Contents(self._tree), Needle(name, "exact" if rule == "exact" else "fat")
            folders = [
                (volume, folder, list_texts(listing))
                for volume, listings in walks.items()
                for folder, listing in listings.items()
            ]
            _send(out, self._look_at_ruled(contents, folders, needle))
            others = (
                (volume, folder, [one for one in names if not one.endswith(self._endings)])
                for volume, folder, names in folders
            )
            _send(out, list(sweep(contents, others, make_needles(name))))
            os._exit(0)
        finally:
            os._exit(1)

    def _look_at_ruled(
        self, contents: Contents, folders: Iterable[Folder], needle: Needle
    ) -> tuple[list[Hit], dict[Hit, tuple[Format, ...]]]:
        found: list[Hit] = []
        cold: dict[Hit, tuple[Format, ...]] = {}
        for volume, folder, names in folders:
            prefix = f"{folder}/" if folder else ""
            called = [name for name in names if name.endswith(self._endings)]
            found += [(volume, prefix + name) for name in called]
            for name, raw in contents.read_folder(volume, folder, called):
                formats = [one for ending, one in self._formats if name.endswith(ending)]
                if isinstance(raw, bytes) and not any(needle.could_name(raw, one) for one in formats):
                    cold[volume, prefix + name] = tuple(formats)
        return found, cold

    def _receive(self) -> Any:
        """The next thing that the child sends; None where there is no child, or it came to a bad end."""
        if not self._child:
            return None
        size = int.from_bytes(_read(self._pipe, 8), "little")
        raw = _read(self._pipe, size)
        return marshal.loads(raw) if size and len(raw) == size else None


def _find_endings(profile: Profile) -> list[tuple[str, Format]]:
    """How the names of ruled files end, with the format of the rule: what stands behind the last wildcard."""
    rules = [rule for menu in profile.menus for rule in menu.references]
    names = [(rule.file.path.rpartition("/")[2], rule.format) for rule in rules]
    endings = [(name[max(map(name.rfind, "*?]}")) + 1 :], format) for name, format in names]
    return [one for one in dict.fromkeys(endings) if one[0]]


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

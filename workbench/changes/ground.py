"""One volume's files, reached by descriptors: every folder on the way is opened without following a link.

The root is opened once and held, so that a volume swapped for another under the same mount point cannot be
written to by mistake. `OSError` leaves this module as it is; `explain` makes a sentence of it.
"""

from __future__ import annotations

import errno
import os
import stat
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from workbench.card.tree import Kind
from workbench.errors import CardError
from workbench.shown import shown

_FOLDER = os.O_RDONLY | getattr(os, "O_DIRECTORY", 0) | getattr(os, "O_NOFOLLOW", 0)
_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)
_CREATE = os.O_RDWR | os.O_CREAT | os.O_EXCL | getattr(os, "O_NOFOLLOW", 0)
_NOT_THERE = (errno.ENOENT, errno.ENOTDIR, errno.ENAMETOOLONG)
_CANNOT_SYNC = (errno.EINVAL, errno.ENOSYS, errno.ENOTSUP, errno.EACCES, errno.EPERM, errno.EISDIR)
_CHUNK = 1024 * 1024
_MOST_FOLDERS_HELD = 64
_MOST_FILES_HELD = 128


class Ground:
    """The files of one volume. Use as a context manager: descriptors are held until it ends."""

    def __init__(self, role: str, root: Path, *, fat: bool, filesystem: str = "") -> None:
        self.role = role
        self.root = root
        self.filesystem = filesystem
        """As the host names it; empty where unknown."""
        self.fat = fat
        """Whether the host ignores case there."""
        self.lacks: set[str] = set()
        """What this file system was found not to have: `xattr`, `attributes`, `mode`."""
        self._root_fd = os.open(root, os.O_RDONLY | getattr(os, "O_DIRECTORY", 0))
        held = os.fstat(self._root_fd)
        self._identity = (held.st_dev, held.st_ino)
        self._held: dict[str, int] = {"": self._root_fd}

    def __enter__(self) -> Ground:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Let every descriptor go."""
        for handle in self._held.values():
            os.close(handle)
        self._held = {}

    @property
    def is_fuse(self) -> bool:
        """Whether a program in user space serves it (exFAT on older kernels)."""
        return self.filesystem.lower().startswith("fuse")

    @property
    def identity(self) -> tuple[int, int]:
        """Device and inode of the root: one volume mounted now on this host."""
        return self._identity

    def check_identity(self) -> None:
        """Notice a card that was pulled out, or swapped for another, before the next act on it.

        Raises:
            CardError: the root is not the one that was opened.
        """
        try:
            now = os.stat(self.root)
        except OSError as error:
            raise self._gone() from error
        if (now.st_dev, now.st_ino) != self._identity:
            raise self._gone()

    def _gone(self) -> CardError:
        return CardError(
            f"the volume {shown(self.role)} at {shown(str(self.root))} is no longer the one that was opened: "
            "the card was pulled out or swapped. Put it back and try again.",
            path=f"{self.role}:",
        )

    # Looking

    def lstat(self, path: str) -> os.stat_result | None:
        """What is at the path, a link itself; None where nothing is."""
        if not path:
            return os.fstat(self._root_fd)
        folder, _, name = path.rpartition("/")
        try:
            return os.stat(name, dir_fd=self._open_folder(folder), follow_symlinks=False)
        except OSError as error:
            if error.errno in _NOT_THERE or (error.errno == errno.ELOOP):
                return None
            raise

    def names(self, folder: str) -> list[str]:
        """The names in a folder, in the folder's own order."""
        return os.listdir(self._open_folder(folder))

    def scan(self, folder: str) -> list[tuple[str, os.stat_result]]:
        """Names and what they are, in the folder's own order."""
        handle = self._open_folder(folder)
        return [(name, os.stat(name, dir_fd=handle, follow_symlinks=False)) for name in os.listdir(handle)]

    def read_link(self, path: str) -> str:
        """A link's target."""
        folder, _, name = path.rpartition("/")
        return os.readlink(name, dir_fd=self._open_folder(folder))

    @contextmanager
    def reading(self, path: str) -> Iterator[int]:
        """A descriptor to read a file by; never through a link."""
        folder, _, name = path.rpartition("/")
        handle = os.open(name, _READ, dir_fd=self._open_folder(folder))
        try:
            yield handle
        finally:
            os.close(handle)

    def read(self, path: str) -> bytes:
        """A whole file."""
        with self.reading(path) as handle:
            return b"".join(read_chunks(handle))

    # Acting

    @contextmanager
    def creating(self, path: str, flush: Flush | None = None) -> Iterator[int]:
        """A descriptor of a new, empty file that must not be there yet; flushed when it is written.

        With `flush` it is flushed there, with others.
        """
        folder, _, name = path.rpartition("/")
        handle = os.open(name, _CREATE, 0o666, dir_fd=self._open_folder(folder))
        try:
            yield handle
            if flush is None:
                sync(handle)
        except BaseException:
            os.close(handle)
            raise
        if flush is None:
            os.close(handle)
        else:
            flush.add(handle)

    @contextmanager
    def updating(self, path: str) -> Iterator[int]:
        """A descriptor to write into a file that is there, in place."""
        folder, _, name = path.rpartition("/")
        flags = os.O_RDWR | getattr(os, "O_NOFOLLOW", 0)
        handle = os.open(name, flags, dir_fd=self._open_folder(folder))
        try:
            yield handle
        finally:
            os.close(handle)

    def make_folder(self, path: str, mode: int = 0o777) -> None:
        """A new folder; its parent is there."""
        folder, _, name = path.rpartition("/")
        os.mkdir(name, mode, dir_fd=self._open_folder(folder))

    def make_link(self, path: str, target: str) -> None:
        """A new symbolic link; it is never followed."""
        folder, _, name = path.rpartition("/")
        os.symlink(target, name, dir_fd=self._open_folder(folder))

    def rename(self, source: str, to: str) -> None:
        """One rename(2) within the volume; a file at the new place is replaced by it."""
        from_folder, _, from_name = source.rpartition("/")
        to_folder, _, to_name = to.rpartition("/")
        source_fd = self._open_folder(from_folder)
        os.rename(from_name, to_name, src_dir_fd=source_fd, dst_dir_fd=self._open_folder(to_folder))
        self._forget(source)
        self._forget(to)

    def remove_file(self, path: str) -> None:
        """Unlink; only ever used on our own working files."""
        folder, _, name = path.rpartition("/")
        os.unlink(name, dir_fd=self._open_folder(folder))

    def remove_folder(self, path: str) -> None:
        """Remove an empty folder of ours."""
        folder, _, name = path.rpartition("/")
        handle = self._open_folder(folder)
        self._forget(path)
        os.rmdir(name, dir_fd=handle)

    def sync_folder(self, folder: str) -> None:
        """Flush a folder's names."""
        sync(self._open_folder(folder))

    def sync_item(self, path: str) -> None:
        """Flush a file or folder itself: on FAT its first cluster and size stand in the folder that holds
        it, and are written with the file (fat_write_inode of the Linux driver)."""
        folder, _, name = path.rpartition("/")
        try:
            handle = os.open(name, _READ, dir_fd=self._open_folder(folder))
        except OSError as error:
            if error.errno in (errno.ELOOP, errno.EACCES, errno.ENXIO):
                return
            raise
        try:
            sync(handle)
        finally:
            os.close(handle)

    def _open_folder(self, path: str) -> int:
        held = self._held.get(path)
        if held is not None:
            return held
        parent, _, name = path.rpartition("/")
        handle = os.open(name, _FOLDER, dir_fd=self._open_folder(parent))
        if len(self._held) > _MOST_FOLDERS_HELD:
            self._let_go(lambda other: other != parent)
        self._held[path] = handle
        return handle

    def _forget(self, path: str) -> None:
        """Paths at and below here lead elsewhere from now on."""
        below = path + "/"
        fold = fold_host(path) if self.fat else ""
        self._let_go(
            lambda held: (
                held == path
                or held.startswith(below)
                or (self.fat and (fold_host(held) + "/").startswith(fold + "/"))
            )
        )

    def _let_go(self, chosen: object) -> None:
        assert callable(chosen)
        for path in [path for path in self._held if path and chosen(path)]:
            os.close(self._held.pop(path))


class Flush:
    """Files that are written and still open, to be flushed one after the other.

    The first fsync makes the device write what all of them need, the others then cost little; a flush after
    each single file would wait for the device each time.
    """

    def __init__(self) -> None:
        self._waiting: list[int] = []

    def add(self, handle: int) -> None:
        """Take over a descriptor."""
        self._waiting.append(handle)
        if len(self._waiting) >= _MOST_FILES_HELD:
            self.run()

    def run(self) -> None:
        """Flush and close every file."""
        while self._waiting:
            handle = self._waiting.pop(0)
            try:
                sync(handle)
            finally:
                os.close(handle)

    def drop(self) -> None:
        """Close them unflushed: they are about to be taken away."""
        while self._waiting:
            os.close(self._waiting.pop())


def sync(handle: int) -> None:
    """fsync; a file system that cannot sync this kind of thing is no failure."""
    try:
        if (
            sys.platform == "darwin"
        ):  # there fsync leaves the data in the drive's own cache (fsync(2) of macOS)
            import fcntl

            fcntl.fcntl(handle, fcntl.F_FULLFSYNC)
            return
        os.fsync(handle)
    except OSError as error:
        if error.errno not in _CANNOT_SYNC:
            raise


def read_chunks(handle: int) -> Iterator[bytes]:
    """A file's bytes, a piece at a time."""
    while piece := os.read(handle, _CHUNK):
        yield piece


def write_all(handle: int, content: bytes) -> None:
    """Write every byte (write(2) may take fewer)."""
    left = memoryview(content)
    while left:
        left = left[os.write(handle, left) :]


def kind_of(found: os.stat_result) -> Kind:
    """File, folder, link or other."""
    return _KINDS.get(stat.S_IFMT(found.st_mode), "other")


def fold_host(name: str) -> str:
    """What a host that ignores case takes for one name (exFAT 7.2.5.1: up-cased one by one)."""
    if name.isascii():
        return name.upper()
    return "".join(char.upper() if len(char.upper()) == 1 else char for char in name)


_KINDS: Mapping[int, Kind] = {stat.S_IFREG: "file", stat.S_IFDIR: "folder", stat.S_IFLNK: "link"}

_REASONS = {
    errno.ENOSPC: "the card is full",
    errno.EDQUOT: "your share of the disk is used up",
    errno.EIO: "the card answered with an error; it may be failing or was pulled out",
    errno.ENODEV: "the card was pulled out",
    errno.ENXIO: "the card was pulled out",
    errno.EROFS: "the volume is read-only",
    errno.EACCES: "you are not allowed to",
    errno.EPERM: "you are not allowed to",
    errno.ENOENT: "a file or folder is no longer there",
    errno.ENOTDIR: "a folder on the way is a link or a file",
    errno.ELOOP: "a link is in the way, and links are not followed",
}


def explain(error: OSError) -> str:
    """Why the system refused, as the end of a sentence."""
    return _REASONS.get(error.errno or 0, error.strerror or "the system refused it")

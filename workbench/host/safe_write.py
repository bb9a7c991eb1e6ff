"""The one way in which a file of ours on the host comes to be: whole, or as it was before.

A reader sees the old content or the new, never a part; after a return the new content is on the disk as
far as the file system can promise it. Cards are not written here: that is `changes`.
"""

from __future__ import annotations

import contextlib
import errno
import os
from pathlib import Path

from workbench.errors import CardwrightError

_NO_SYNC = {
    errno.EACCES,
    errno.EBADF,
    errno.EINVAL,
    errno.ENOSYS,
    errno.ENOTSUP,
    errno.EOPNOTSUPP,
    errno.EPERM,
}
"""What file systems and systems answer that cannot sync a file or a folder; harmless."""


class HostWriteError(CardwrightError):
    """A file in the user's own folders could not be written; what was there is still there."""

    kind = "host"


def write_safely(path: Path, content: bytes, mode: int = 0o600) -> None:
    """Put `content` at `path`, replacing what is there; missing folders are made (0700).

    Raises:
        HostWriteError: disk full, no permission, …; the old file is untouched and no leftover stays.
    """
    import tempfile

    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor, waiting = tempfile.mkstemp(prefix=f".{path.name[:40]}.", dir=path.parent)
    except OSError as error:
        raise _refusal(path, error) from error
    try:
        _fill(descriptor, content, mode)
        os.replace(waiting, path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            os.unlink(waiting)
        if isinstance(error, OSError):
            raise _refusal(path, error) from error
        raise
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """Flush a folder's names; quietly does nothing where that cannot be asked (Windows, some FUSE)."""
    with contextlib.suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            _sync(descriptor)
        finally:
            os.close(descriptor)


def _fill(descriptor: int, content: bytes, mode: int) -> None:
    with open(descriptor, "wb", closefd=True) as file:
        file.write(content)
        file.flush()
        if (length := os.fstat(descriptor).st_size) != len(content):
            raise OSError(errno.EIO, f"{length} of {len(content)} bytes arrived")
        with contextlib.suppress(OSError):  # FAT and exFAT refuse chmod; harmless
            os.chmod(file.name, mode)
        _sync(descriptor)


def _sync(descriptor: int) -> None:
    try:
        os.fsync(descriptor)
    except OSError as error:
        if error.errno not in _NO_SYNC:
            raise


def _refusal(path: Path, error: OSError) -> HostWriteError:
    because = "the disk is full" if error.errno == errno.ENOSPC else (error.strerror or str(error))
    return HostWriteError(
        f"{path} could not be written: {because}. What was there is untouched; "
        "make room or choose another folder, then do it again.",
        path=str(path),
    )

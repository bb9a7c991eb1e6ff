"""What belongs to a file besides its bytes, where the file system has it, so that a replaced file keeps it:
mode, owner, extended attributes, FAT's attribute bits. A file system that lacks one of them is no failure.
"""

from __future__ import annotations

import base64
import contextlib
import errno
import os
import stat
import struct
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from workbench.changes.ground import Ground
from workbench.values import dataclass

_LACKING = (
    errno.EPERM,
    errno.EACCES,
    errno.EINVAL,
    errno.ENOSYS,
    errno.ENOTSUP,
    errno.ENOTTY,
    errno.EOPNOTSUPP,
)
"""How a file system says that it does not have something, or the system that this user may not set it."""
_GET_ATTRIBUTES = 0x80047210
"""FAT_IOCTL_GET_ATTRIBUTES, `_IOR('r', 0x10, __u32)` of linux/msdos_fs.h."""
_SET_ATTRIBUTES = 0x40047211
"""FAT_IOCTL_SET_ATTRIBUTES, `_IOW('r', 0x11, __u32)`."""
HIDDEN = 0x02
"""ATTR_HIDDEN (FAT specification, directory entry attributes)."""
_KEPT_ATTRIBUTES = 0x07
"""Read-only, hidden, system. The archive bit says "written since the last backup" and is the system's."""
_FIRST_SECOND = 315_532_800
"""1980-01-01T00:00:00Z, the first second that FAT can keep (FAT specification, date format)."""
_LAST_SECOND = 4_354_819_198
"""2107-12-31T23:59:58Z, the last."""


@dataclass(frozen=True, slots=True)
class Metadata:
    """As it was on the original."""

    mode: int
    uid: int
    gid: int
    mtime_ns: int
    xattrs: Mapping[str, bytes]
    attributes: int | None
    """FAT's bits, or None where the file system has none."""

    def to_json(self) -> dict[str, Any]:
        xattrs = {name: base64.b64encode(value).decode() for name, value in self.xattrs.items()}
        return {
            "mode": self.mode,
            "uid": self.uid,
            "gid": self.gid,
            "mtime_ns": self.mtime_ns,
            "xattrs": xattrs,
            "attributes": self.attributes,
        }

    @classmethod
    def from_json(cls, found: Mapping[str, Any]) -> Metadata:
        xattrs = {name: base64.b64decode(value) for name, value in found["xattrs"].items()}
        return cls(found["mode"], found["uid"], found["gid"], found["mtime_ns"], xattrs, found["attributes"])


def read_metadata(ground: Ground, handle: int) -> Metadata:
    """What an open file carries."""
    found = os.fstat(handle)
    return Metadata(
        stat.S_IMODE(found.st_mode),
        found.st_uid,
        found.st_gid,
        found.st_mtime_ns,
        _read_xattrs(ground, handle),
        _read_attributes(ground, handle),
    )


def put_metadata(ground: Ground, handle: int, wanted: Metadata, *, times: bool) -> None:
    """Give an open file what the original carried; `times` puts its modification time back too."""
    found = os.fstat(handle)
    if (found.st_uid, found.st_gid) != (wanted.uid, wanted.gid) and "owner" not in ground.lacks:
        _try(ground, "owner", lambda: os.fchown(handle, wanted.uid, wanted.gid))
    for name, value in wanted.xattrs.items():
        with _tolerating():  # a name space that only the system may write (security.*)
            os.setxattr(handle, name, value)
    put_mode(ground, handle, wanted.mode)
    if wanted.attributes is not None and (wanted.attributes & _KEPT_ATTRIBUTES):
        _put_attributes(ground, handle, wanted.attributes & _KEPT_ATTRIBUTES)
    if times:
        clamped = min(max(wanted.mtime_ns, _FIRST_SECOND * 10**9), _LAST_SECOND * 10**9)
        stamp = clamped if ground.fat else wanted.mtime_ns
        _try(ground, "times", lambda: os.utime(handle, ns=(stamp, stamp)))


def put_mode(ground: Ground, handle: int, mode: int) -> None:
    """Permission bits. exFAT and FAT refuse or drop what they cannot keep; harmless."""
    if stat.S_IMODE(os.fstat(handle).st_mode) != mode and "mode" not in ground.lacks:
        _try(ground, "mode", lambda: os.fchmod(handle, mode))


def hide_folder(ground: Ground, path: str) -> None:
    """Set FAT's hidden bit on a folder of ours, where there is one."""
    if not ground.fat or "attributes" in ground.lacks:
        return
    with contextlib.suppress(OSError), ground.reading(path) as handle:
        _put_attributes(ground, handle, HIDDEN)


def _read_xattrs(ground: Ground, handle: int) -> dict[str, bytes]:
    if "xattr" in ground.lacks or not hasattr(os, "listxattr"):
        return {}
    try:
        return {name: os.getxattr(handle, name) for name in os.listxattr(handle)}
    except OSError as error:
        if error.errno not in _LACKING:
            raise
        ground.lacks.add("xattr")
        return {}


def _read_attributes(ground: Ground, handle: int) -> int | None:
    if not ground.fat or "attributes" in ground.lacks:
        return None
    try:
        import fcntl

        return int(struct.unpack("=I", fcntl.ioctl(handle, _GET_ATTRIBUTES, struct.pack("=I", 0)))[0])
    except (ImportError, OSError) as error:
        if isinstance(error, OSError) and error.errno not in _LACKING:
            raise
        ground.lacks.add("attributes")
        return None


def _put_attributes(ground: Ground, handle: int, bits: int) -> None:
    present = _read_attributes(ground, handle)
    if present is None or present & bits == bits:
        return
    import fcntl

    with _tolerating():
        fcntl.ioctl(handle, _SET_ATTRIBUTES, struct.pack("=I", present | bits))


def _try(ground: Ground, what: str, act: Callable[[], None]) -> None:
    try:
        act()
    except OSError as error:
        if error.errno not in _LACKING:
            raise
        ground.lacks.add(what)


@contextlib.contextmanager
def _tolerating() -> Iterator[None]:
    """Let pass what the file system does not have or this user may not set."""
    try:
        yield
    except OSError as error:
        if error.errno not in _LACKING:
            raise

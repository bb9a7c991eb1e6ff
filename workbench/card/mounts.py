"""What is mounted on this host: the kernel's table on Linux (proc(5)), psutil's list elsewhere."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterable
from pathlib import Path

from workbench.late_pattern import late_pattern
from workbench.values import dataclass

_ESCAPE = late_pattern(r"\\([0-7]{3})")


@dataclass(frozen=True, slots=True)
class Mount:
    """One mounted file system."""

    point: str
    """Absolute path of the mount point."""
    device: str
    """`/dev/sdb1`, a drive letter, or what the kernel calls the source (`overlay`, `tmpfs`)."""
    filesystem: str
    options: tuple[str, ...]
    number: str = ""
    """Linux: `MAJOR:MINOR` of the file system; `""` elsewhere."""
    inner: str = "/"
    """Linux: the folder of that file system that is mounted; not `/` for a bind mount."""
    super_options: tuple[str, ...] = ()
    """Linux: options of the file system itself (an overlay's folders, an error remount's `ro`)."""

    @property
    def is_read_only(self) -> bool:
        return "ro" in self.options or "ro" in self.super_options or self.has_failed

    @property
    def has_failed(self) -> bool:
        """Whether the kernel stopped writing there for good (ext4 since Linux 6.14, or one shut down)."""
        return not {"emergency_ro", "shutdown"}.isdisjoint((*self.options, *self.super_options))


def read_mounts(mountinfo: Path | None = None) -> tuple[Mount, ...]:
    """Everything mounted, in the order of mounting; of two at one point only the later, visible one."""
    if mountinfo is None and not sys.platform.startswith("linux"):
        return _ask_psutil()
    try:
        raw = (mountinfo or Path("/proc/self/mountinfo")).read_bytes()
    except OSError:
        return ()
    return _keep_visible(filter(None, map(_parse_line, os.fsdecode(raw).splitlines())))


def find_mount(mounts: Iterable[Mount], path: str) -> Mount | None:
    """The mount that holds an absolute path: the one with the longest point."""
    best: Mount | None = None
    for mount in mounts:
        if _holds(mount.point, path) and (best is None or len(mount.point) >= len(best.point)):
            best = mount
    return best


def unescape(text: str) -> str:
    """Undo the octal escapes of mount tables: space, tab, newline and backslash (proc(5))."""
    if "\\" not in text:
        return text
    return _ESCAPE.sub(lambda found: chr(int(found[1], 8)), text)


def _holds(point: str, path: str) -> bool:
    return point == "/" or path == point or path.startswith(point + "/")


def _keep_visible(mounts: Iterable[Mount]) -> tuple[Mount, ...]:
    visible: dict[str, Mount] = {}
    for mount in mounts:
        visible.pop(mount.point, None)
        visible[mount.point] = mount
    return tuple(visible.values())


def _parse_line(line: str) -> Mount | None:
    """One line of mountinfo: id parent number inner point options [tags…] - type source super-options."""
    left, dash, right = line.partition(" - ")
    fields, tail = left.split(" "), right.split(" ")
    if not dash or len(fields) < 6 or len(tail) < 3:
        return None
    return Mount(
        point=unescape(fields[4]),
        device=unescape(tail[1]),
        filesystem=tail[0],
        options=tuple(fields[5].split(",")),
        number=fields[2],
        inner=unescape(fields[3]),
        super_options=tuple(map(unescape, tail[2].split(","))),
    )


def _ask_psutil() -> tuple[Mount, ...]:
    import psutil

    parts = psutil.disk_partitions(all=False)
    return tuple(Mount(one.mountpoint, one.device, one.fstype, tuple(one.opts.split(","))) for one in parts)

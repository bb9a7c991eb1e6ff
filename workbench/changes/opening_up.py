"""Opens a read-only volume for one change, by consent, and makes it read-only again on every way out.

What was opened is noted in the user's state folder first: if this program is killed, the next one that writes
to that card, or recovers it, finds the volume open and closes it again.
"""

from __future__ import annotations

import contextlib
import errno
import json
import os
import time
from collections.abc import Callable, Collection, Iterator, Sequence
from pathlib import Path
from typing import Any, NoReturn

from workbench.card.mounts import Mount, find_mount, read_mounts
from workbench.card.read_only import ReadOnly, judge_read_only
from workbench.card.volumes import Card
from workbench.errors import PreflightError
from workbench.host.folders import state_folder
from workbench.host.safe_write import write_safely
from workbench.shown import shown
from workbench.values import dataclass, field, replace

_RDONLY, _REMOUNT, _BIND, _RELATIME, _STRICTATIME = 1, 32, 4096, 1 << 21, 1 << 24
_FLAGS = {
    "nosuid": 2,
    "nodev": 4,
    "noexec": 8,
    "sync": 16,
    "mand": 64,
    "dirsync": 128,
    "noatime": 1024,
    "nodiratime": 2048,
    "relatime": _RELATIME,
    "lazytime": 1 << 25,
}
"""Mount options as flags of mount(2), so that a remount changes nothing else."""
_TRIES = 25
_PAUSE_S = 0.2

Remount = Callable[[Mount, bool], None]
"""Makes a mount writable (True) or read-only again (False); raises OSError."""


@dataclass(slots=True)
class Opening:
    """A card some of whose volumes were opened for writing."""

    card: Card
    """With these volumes no longer read-only."""
    notes: list[str] = field(default_factory=list)
    """Sentences about what could not be closed again; complete when the opening has ended."""


@contextlib.contextmanager
def open_up(card: Card, roles: Collection[str], remount: Remount | None = None) -> Iterator[Opening]:
    """Open these read-only volumes for writing until the block ends, whichever way it ends.

    Volumes of the card that an earlier, killed program left open are made read-only again too.

    Raises:
        PreflightError: one of them is not read-only on purpose, or the system refused; nothing was changed.
    """
    act = remount or remount_mount
    found = [judge_read_only(card, role) for role in roles if card.volume(role).read_only]
    for one in found:
        refuse_closed(one)
    opening = Opening(_without_lock(card, roles))
    opened = _find_left_open(card)
    try:
        for mount in {one.mount.point: one.mount for one in found if one.mount is not None}.values():
            opened.append(mount)
            try:
                _open(mount, act)
            except PreflightError:
                _forget(opened.pop())
                raise
        yield opening
    finally:
        for mount in reversed(opened):
            opening.notes += _close(mount, act)


def refuse_closed(one: ReadOnly) -> None:
    """Refuse a volume that may not be opened.

    Raises:
        PreflightError: with the reason.
    """
    if not one.can_open:
        raise PreflightError(
            f"the volume {shown(one.role)} {one.because}. Nothing was changed.", path=f"{one.role}:"
        )


def refuse_unasked(one: ReadOnly) -> NoReturn:
    """Refuse to write to a read-only volume that nobody said to open.

    Raises:
        PreflightError: with what would open it, or why nothing does.
    """
    refuse_closed(one)
    raise PreflightError(
        f"the volume {shown(one.role)} {one.because}, so nothing can be written to it. Nothing was changed. "
        "With --open-read-only (on the command line) it is opened for this change and closed again.",
        path=f"{one.role}:",
    )


def remount_mount(mount: Mount, writable: bool) -> None:
    """mount(2) with everything as it is but for read-only; needs the right to mount (root).

    Raises:
        OSError: the system refused.
    """
    import ctypes

    flags = _REMOUNT | (0 if writable else _RDONLY)
    for option in (*mount.options, *mount.super_options):
        flags |= _FLAGS.get(option, 0)
    if not flags & (_FLAGS["noatime"] | _RELATIME):
        flags |= _STRICTATIME
    if "ro" not in mount.super_options:  # only this mount was read-only, not its file system
        flags |= _BIND
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.mount(None, os.fsencode(mount.point), None, ctypes.c_ulong(flags), None) != 0:
        code = ctypes.get_errno()
        raise OSError(code, os.strerror(code), mount.point)


def _without_lock(card: Card, roles: Collection[str]) -> Card:
    volumes = {
        role: replace(volume, read_only=False) if role in roles else volume
        for role, volume in card.volumes.items()
    }
    return replace(card, volumes=volumes)


def _open(mount: Mount, act: Remount) -> None:
    _note(mount)
    try:
        act(mount, True)
    except OSError as error:
        why = {
            errno.EPERM: "that takes the rights of root; run it again with sudo",
            errno.EACCES: "its device is locked; a card has a small lock switch on its side",
            errno.EROFS: "its device is locked; a card has a small lock switch on its side",
        }.get(error.errno or 0, error.strerror or str(error))
        raise PreflightError(
            f"{shown(mount.point)} could not be opened for writing: {why}. Nothing was changed.",
            path=mount.point,
        ) from error


def _close(mount: Mount, act: Remount) -> Sequence[str]:
    """Read-only again, with a few tries where something still writes there."""
    now = find_mount(read_mounts(), mount.point)
    if now is not None and now.point == mount.point and _fell_shut(now):
        _forget(mount)
        return [
            f"{shown(mount.point)} became read-only by itself while it was written to, which is the sign of "
            "an error on it; check it with fsck."
        ]
    for left in reversed(range(_TRIES)):
        try:
            act(mount, False)
        except OSError as error:
            if error.errno == errno.EBUSY and left:
                time.sleep(_PAUSE_S)
                continue
            return [
                f"{shown(mount.point)} could not be made read-only again ({error.strerror or error}). Close "
                f"what still writes there, then: mount -o remount,ro {shown(mount.point)}"
            ]
        break
    _forget(mount)
    return []


def _fell_shut(mount: Mount) -> bool:
    """Whether the kernel made it read-only by itself: its file system, not the mount."""
    return mount.has_failed or ("ro" in mount.super_options and "ro" not in mount.options)


# What is open


def _folder() -> Path:
    return state_folder() / "opened"


def _file(mount: Mount) -> Path:
    return _folder() / f"{mount.number.replace(':', '-')}.json"


def _note(mount: Mount) -> None:
    told = {
        "point": mount.point,
        "number": mount.number,
        "options": list(mount.options),
        "super_options": list(mount.super_options),
        "boot": _boot(),
    }
    write_safely(_file(mount), json.dumps(told).encode("ascii"))


def _forget(mount: Mount) -> None:
    with contextlib.suppress(OSError):
        _file(mount).unlink()


def _find_left_open(card: Card) -> list[Mount]:
    """Mounts under the card's volumes that we opened and that are still as we left them."""
    left: list[Mount] = []
    if not _folder().is_dir():
        return left
    mounts = read_mounts()
    for point in dict.fromkeys(_point_of(mounts, str(volume.root)) for volume in card.present):
        now = find_mount(mounts, point)
        told = None if now is None or now.is_read_only else _read(_file(now))
        if now is not None and told is not None and (told["point"], told["boot"]) == (now.point, _boot()):
            left.append(
                replace(now, options=tuple(told["options"]), super_options=tuple(told["super_options"]))
            )
    return left


def _point_of(mounts: Sequence[Mount], root: str) -> str:
    found = find_mount(mounts, os.path.realpath(root))
    return found.point if found is not None else root


def _read(file: Path) -> dict[str, Any] | None:
    try:
        told = json.loads(file.read_bytes())
        return {key: told[key] for key in ("point", "boot", "options", "super_options")}
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _boot() -> str:
    """Which start of this system it is: after another one nothing is as it was left."""
    try:
        return Path("/proc/sys/kernel/random/boot_id").read_text().strip()
    except OSError:
        return ""

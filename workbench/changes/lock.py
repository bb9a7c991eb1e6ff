"""One writer at a time: an OS lock in the user's state folder for each volume.

Keyed by the device and inode of the mounted root, which every program on this host sees alike, and which a
volume has before its ledger gives it an id.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Iterable, Iterator

from workbench.changes.ground import Ground
from workbench.errors import CardError
from workbench.host.folders import state_folder
from workbench.shown import shown


@contextlib.contextmanager
def hold_volumes(grounds: Iterable[Ground]) -> Iterator[None]:
    """Keep every other Cardwright on this host from writing to these volumes.

    Raises:
        CardError: another one is writing there.
    """
    with contextlib.ExitStack() as held:
        for ground in sorted(grounds, key=lambda one: one.identity):
            held.enter_context(_hold(ground))
        yield


@contextlib.contextmanager
def _hold(ground: Ground) -> Iterator[None]:
    folder = state_folder() / "locks"
    folder.mkdir(mode=0o700, exist_ok=True)
    device, inode = ground.identity
    handle = os.open(folder / f"{device:x}-{inode:x}.lock", os.O_RDWR | os.O_CREAT, 0o600)
    try:
        _lock(handle, ground)
        yield
    finally:
        os.close(handle)


def _lock(handle: int, ground: Ground) -> None:
    try:
        import fcntl
    except ImportError:  # Windows has no flock
        return
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as error:
        raise CardError(
            f"another Cardwright is writing to the volume {shown(ground.role)}; nothing was changed. "
            "Wait until it is done.",
            path=f"{ground.role}:",
        ) from error

"""Child processes by `fork`, and what they send: plain values through a pipe, whole or not at all."""

from __future__ import annotations

import marshal
import os
import sys
import time

from workbench.typed import Any

PIPE_BYTES = 1024 * 1024
"""Read at once; so much may also wait in a pipe where the system lets us say so."""

_SIGKILL = 9
"""As POSIX numbers it; to import `signal` for that takes a millisecond."""

_PATIENCE = 5000
"""How often to look, five times a millisecond, until any other child is gone."""


def can_fork() -> bool:
    """Whether a forked child is safe (no other thread holds a lock) and would find a processor."""
    threading = sys.modules.get("threading")  # where nobody has imported it, nobody has started a thread
    is_alone = threading is None or threading.active_count() == 1
    return hasattr(os, "fork") and is_alone and _count_processors() > 1


def send(pipe: int, value: Any) -> None:
    """Write a value that `marshal` knows."""
    raw = marshal.dumps(value)
    left = memoryview(len(raw).to_bytes(8, "little") + raw)
    while left:
        left = left[os.write(pipe, left) :]


def receive(pipe: int) -> Any:
    """The next value that was sent; None where whoever sends has ended."""
    size = int.from_bytes(_read(pipe, 8), "little")
    raw = _read(pipe, size)
    return marshal.loads(raw) if size and len(raw) == size else None


def widen(pipe: int) -> None:
    """Let so much wait in a pipe that its other side seldom has to be waited for, where the system can."""
    if sys.platform.startswith("linux"):
        import fcntl

        try:
            fcntl.fcntl(pipe, fcntl.F_SETPIPE_SZ, PIPE_BYTES)
        except OSError:
            return  # it works as it is, only with more waiting


def end_child(child: int) -> None:
    """End a child, if it has not ended, and wait until it is gone.

    Not for ever: one that waits for a dead network drive cannot even be killed, and ends when that answers.
    """
    os.kill(child, _SIGKILL)
    for _ in range(_PATIENCE):
        if os.waitpid(child, os.WNOHANG)[0]:
            return
        time.sleep(0.0002)


def _read(pipe: int, size: int) -> bytes:
    """So many bytes; fewer where the other side has ended."""
    pieces: list[bytes] = []
    while size > 0 and (piece := os.read(pipe, min(size, PIPE_BYTES))):
        pieces.append(piece)
        size -= len(piece)
    return b"".join(pieces)


def _count_processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1

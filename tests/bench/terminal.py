"""A program on a pseudo-terminal: what it writes, when, and how much memory it takes. Linux only."""

from __future__ import annotations

import fcntl
import os
import pty
import select
import signal
import struct
import termios
import time
from collections.abc import Mapping, Sequence
from types import TracebackType


class Terminal:
    """One program on a pty of its own; bytes are counted as they come."""

    def __init__(
        self, words: Sequence[str], *, columns: int = 120, rows: int = 40, variables: Mapping[str, str] = {}
    ) -> None:
        self.started = time.perf_counter()
        self.seen = b""
        self.pid, self._fd = pty.fork()
        if self.pid == 0:
            os.environ.update({"TERM": "xterm-256color", "COLORTERM": "truecolor", **variables})
            os.execvp(words[0], list(words))
        fcntl.ioctl(self._fd, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def __enter__(self) -> Terminal:
        return self

    def __exit__(self, kind: type | None, error: BaseException | None, trace: TracebackType | None) -> None:
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        os.close(self._fd)

    def wait_for(self, needle: bytes, timeout: float = 30) -> float:
        """Seconds from the start until these bytes were written."""
        end = time.perf_counter() + timeout
        while needle not in self.seen:
            assert time.perf_counter() < end, f"{needle!r} never came; the end was {self.seen[-400:]!r}"
            self._read(0.05)
        return time.perf_counter() - self.started

    def take(self, seconds: float) -> bytes:
        """What is written within that time."""
        before, end = len(self.seen), time.perf_counter() + seconds
        while (left := end - time.perf_counter()) > 0:
            self._read(left)
        return self.seen[before:]

    def take_first(self, timeout: float = 5) -> float:
        """Seconds until anything at all is written."""
        start = time.perf_counter()
        before = len(self.seen)
        while len(self.seen) == before:
            assert time.perf_counter() - start < timeout, "nothing was written"
            self._read(timeout)
        return time.perf_counter() - start

    def rest(self, silence: float = 0.7) -> None:
        """Wait until nothing is written for so long."""
        while self.take(silence):
            pass

    def press(self, keys: bytes) -> None:
        """Type these bytes."""
        os.write(self._fd, keys)

    def _read(self, seconds: float) -> None:
        if select.select([self._fd], [], [], seconds)[0]:
            self.seen += os.read(self._fd, 1 << 16)

    @property
    def memory_kib(self) -> int:
        """Resident memory now."""
        with open(f"/proc/{self.pid}/status") as status:
            return next(int(line.split()[1]) for line in status if line.startswith("VmRSS"))

"""Long work on the command line: how far it is, how long it will take, and a key that stops it.

Progress goes to standard error, and only where that is a terminal.
"""

from __future__ import annotations

import contextlib
import signal
import sys
import time
from collections.abc import Callable, Iterator
from types import FrameType
from typing import TYPE_CHECKING

from workbench.jobs.progress_words import ProgressWords

if TYPE_CHECKING:
    from workbench.jobs.animate.wish import Progress

_PAUSE = 0.25
"""Seconds between two reports."""


class Watch:
    """Tells progress, and whether the person wants to stop."""

    def __init__(self, *, is_quiet: bool, now: Callable[[], float] = time.monotonic) -> None:
        self._is_quiet = is_quiet
        self._now = now
        self._words = ProgressWords(now)
        self._last = 0.0
        self._is_stopped = False

    def progress(self, progress: Progress) -> None:
        """Take a report; shown at most four times a second."""
        now = self._now()
        if self._words.take(progress):
            self._last = 0.0
        is_end = progress.total is not None and progress.done >= progress.total
        if self._is_quiet or (now - self._last < _PAUSE and not is_end):
            return
        self._last = now
        print(f"\r\x1b[K{self.describe(progress, now)}", end="", file=sys.stderr, flush=True)

    def describe(self, progress: Progress, now: float) -> str:
        """The report in words: `rendering: 120 of 400, 9 s left`."""
        return self._words.describe(progress, now)

    def cancelled(self) -> bool:
        """Whether the person pressed ctrl-C."""
        return self._is_stopped

    def clear(self) -> None:
        """Take the report off the line."""
        if not self._is_quiet:
            print("\r\x1b[K", end="", file=sys.stderr, flush=True)

    @contextlib.contextmanager
    def watching(self) -> Iterator[Watch]:
        """Ctrl-C asks the work to stop; a second one ends at once."""

        def stop(_number: int, _frame: FrameType | None) -> None:
            if self._is_stopped:
                raise KeyboardInterrupt
            self._is_stopped = True

        try:
            before = signal.signal(signal.SIGINT, stop)
        except ValueError:  # not the main thread: nobody presses a key there
            yield self
            return
        try:
            yield self
        finally:
            signal.signal(signal.SIGINT, before)
            self.clear()

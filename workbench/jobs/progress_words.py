"""How far a long work has come, in words, with the time that it will still take."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import TYPE_CHECKING

from workbench.shown import shown

if TYPE_CHECKING:
    from workbench.jobs.animate.wish import Progress

_TO_TELL = 1.0
"""Seconds of work from which it can be told how long the rest takes."""


class ProgressWords:
    """Remembers since when each stretch of the work goes on."""

    def __init__(self, now: Callable[[], float] = time.monotonic) -> None:
        self.now = now
        self._what = ""
        self._first: tuple[float, int] | None = None
        """When something was done first, and how much: what came before was starting up."""

    def take(self, progress: Progress) -> bool:
        """Take a report; whether it begins another stretch."""
        is_new = progress.what != self._what
        if is_new:
            self._what, self._first = progress.what, None
        if self._first is None and progress.done:
            self._first = self.now(), progress.done
        return is_new

    def describe(self, progress: Progress, now: float) -> str:
        """The report in words: `rendering: 120 of 400, 9 s left`."""
        said = shown(progress.what)
        if progress.total is None:
            return f"{said}: {progress.done}" if progress.done else said
        return f"{said}: {progress.done} of {progress.total}{self._say_left(progress, progress.total, now)}"

    def _say_left(self, progress: Progress, total: int, now: float) -> str:
        if (
            self._first is None
            or not self._first[1] < progress.done < total
            or now - self._first[0] < _TO_TELL
        ):
            return ""
        seconds = (now - self._first[0]) / (progress.done - self._first[1]) * (total - progress.done)
        return f", {_show_left(seconds)} left"


def _show_left(seconds: float) -> str:
    whole = max(1, round(seconds))
    return f"{whole} s" if whole < 60 else f"{whole // 60} min {whole % 60} s"

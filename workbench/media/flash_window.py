"""Counts the turns of one kind that fall into any one second, and how much of the panel takes part.

Two things are counted, and the worse of them stands:

- cells: how many turns each cell made, in whatever phase; the count is that which a tenth of the panel
  reached.
  So halves that flash by turns are found, and what moves is not taken for a flash.
- the panel as a whole: a frame in which a tenth of the panel more has brightened than darkened is one change
  up,
  and the other way round. So lamps that flash here and there are found, each of them slow.

The second is half-open, [t, t + 1): exactly three flashes a second are three.
"""

from __future__ import annotations

from collections import deque
from fractions import Fraction

from workbench.media.flash_cells import Cells, Plane

MOST = 6
"""Transitions that may fall into one second: three complete flashes."""
SHARE = 10
"""The panel's share that has to take part: one in ten (6.5 % of a 3.5 inch panel at 200 mm fill a quarter of
a 10-degree field, 10 % at 250 mm). A smaller area is let go, and reported."""
SECOND = Fraction(1)


class Window:
    """The last second of turns of one kind. Frames come in order, at most 250 to the second."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._enough = -(-cells.total // SHARE)
        self._recent = _Span(cells, self._enough, SECOND)
        self._shortest: _Span | None = None
        self.transitions = 0
        """The most in any one second."""
        self.area = 0.0
        """The largest share of the panel whose cells turned more than six times in one second."""
        self.since: Fraction | None = None
        """Where the first second that fails begins."""
        self.until: Fraction | None = None
        """When the turn came with which it failed."""
        self.span: Fraction | None = None
        """The shortest time in which one turn more than allowed was made."""

    def add(self, time: Fraction, made: Plane, up: Plane) -> bool:
        """Take in what turned in the frame at `time`; whether the second that ends with it fails."""
        turned = self._cells.share(made)
        self._recent.forget_before(time)
        if self._shortest is not None:
            self._shortest.forget_before(time)
        if not turned:
            return False
        net = 2 * self._cells.share(up) - turned
        self._recent.add(time, made, net)
        count = self._recent.count()
        self.transitions = max(self.transitions, count)
        self.area = max(self.area, self._recent.over() / self._cells.total)
        if self._shortest is not None:
            self._shortest.add(time, made, net)
        if count > MOST:
            self._fail(time)
        return count > MOST

    def _fail(self, time: Fraction) -> None:
        if self._shortest is None:
            self.since, self.until = self._recent.begins, time
            self._shortest = self._recent.copy()
        while self._shortest.count() > MOST:
            self.span = time - self._shortest.begins
            self._shortest.length = self.span
            self._shortest.forget_before(time)


class _Span:
    """The turns of the last `length` seconds."""

    def __init__(self, cells: Cells, enough: int, length: Fraction) -> None:
        self._cells, self._enough, self.length = cells, enough, length
        self._frames: deque[tuple[Fraction, Plane]] = deque()
        self._events: deque[Fraction] = deque()
        self._direction = 0
        self._counts = cells.no_counts()
        self._tally: list[int] | None = None

    def copy(self) -> _Span:
        span = _Span(self._cells, self._enough, self.length)
        span._frames, span._events = self._frames.copy(), self._events.copy()
        span._direction, span._counts, span._tally = self._direction, self._counts, self._tally
        return span

    @property
    def begins(self) -> Fraction:
        return self._frames[0][0]

    def forget_before(self, time: Fraction) -> None:
        """Let go of what is as long ago as the span is long, or longer."""
        while self._frames and time - self._frames[0][0] >= self.length:
            self._counts = self._cells.count(self._counts, self._frames.popleft()[1], -1)
            self._tally = None
        while self._events and time - self._events[0] >= self.length:
            self._events.popleft()

    def add(self, time: Fraction, made: Plane, net: int) -> None:
        self._frames.append((time, made))
        self._counts = self._cells.count(self._counts, made, 1)
        self._tally = None
        direction = (net > 0) - (net < 0)
        if abs(net) >= self._enough and direction != self._direction:
            self._direction = direction
            self._events.append(time)

    def count(self) -> int:
        """The turns of the panel as a whole, or those that enough of its cells made, whichever are more."""
        tally = self._numbers()
        cells, number = 0, len(tally)
        while number and cells < self._enough:
            number -= 1
            cells += tally[number]
        return max(number, len(self._events))

    def over(self) -> int:
        """How many cells turned more often than allowed."""
        return sum(self._numbers()[MOST + 1 :])

    def _numbers(self) -> list[int]:
        if self._tally is None:
            self._tally = self._cells.tally(self._counts)
        return self._tally

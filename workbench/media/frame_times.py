"""When the device shows which picture. All exact: a frame's time is its index times the delay, and no more.

The device shows frame i at i × delay, whatever the clip's own rate. So the source is looked up at those
times, and sound and picture cannot drift apart. What the source shows at a time is its last picture whose
presentation time is not later; pictures are never counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from math import ceil
from typing import Protocol, TypeVar

from workbench.errors import MediaError
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

MAX_FRAMES = 20_000
"""More than eleven minutes at 30 a second; a boot animation that is longer was not meant."""


class Timed(Protocol):
    """A picture of the source."""

    @property
    def at(self) -> Fraction:
        """Seconds since the source's first picture."""


P = TypeVar("P", bound=Timed)


@dataclass(frozen=True, slots=True)
class Timeline:
    """The device's frames: how many, and which time of the source each shows."""

    count: int
    delay: Fraction
    times: tuple[Fraction, ...]
    """Of the source, since its first picture; never falling."""
    content: Fraction
    """Device seconds in which the clip runs, holds left out."""

    @property
    def length(self) -> Fraction:
        """Seconds that all frames stand."""
        return self.count * self.delay


def count_frames(length: Fraction, delay: Fraction) -> int:
    """How many frames cover that length: the last may stand beyond its end, by less than one delay."""
    return max(1, ceil(length / delay))


def lay_out(order: RenderOrder, end: Fraction) -> Timeline:
    """The frames of an order for a source that ends `end` seconds after its first picture.

    Raises:
        MediaError: it begins behind the end, or needs more frames than are made.
    """
    stop = end if order.length is None else min(end, order.start + order.length)
    if order.start >= stop:
        raise MediaError(
            f"there is nothing to show from {_seconds(order.start)} s on: the clip lasts {_seconds(end)} s. "
            "Nothing was made; choose an earlier start or a length above 0"
        )
    content = (stop - order.start) / order.speed
    whole = order.hold_start + content + order.hold_end
    count = count_frames(whole, order.delay)
    if count > MAX_FRAMES:
        raise MediaError(
            f"{_seconds(whole)} s with a frame each {_seconds(order.delay * 1000)} ms are {count:,} frames; "
            f"{MAX_FRAMES:,} is the most. Nothing was made; choose a shorter length"
        )
    # The last moment that shows the clip itself; a hold repeats what was seen then.
    last = max(0, ceil((order.hold_start + content) / order.delay) - 1)
    times = []
    for index in range(count):
        running = max(Fraction(0), min(index, last) * order.delay - order.hold_start)
        times.append(order.start + running * order.speed)
    return Timeline(count, order.delay, tuple(times), content)


def choose(shown_at: Sequence[Fraction], wanted: Iterable[Fraction]) -> list[int]:
    """For each wanted time, the index of the last picture that is shown by then; the first before any."""
    from bisect import bisect_right

    return [max(0, bisect_right(shown_at, time) - 1) for time in wanted]


def pick(pictures: Iterable[P], wanted: Iterable[Fraction], slack: Fraction = Fraction(0)) -> Iterator[P]:
    """As `choose`, for pictures that come one by one; each is given up once a later one is due.

    Args:
        wanted: never falling.
        slack: how far a time may have been rounded up when it was written down.
    """
    coming = iter(pictures)
    shown = next(coming, None)
    after = next(coming, None)
    for time in wanted:
        while after is not None and after.at - slack <= time:
            shown, after = after, next(coming, None)
        if shown is None:
            return
        yield shown


def whole_delays(rate: Fraction, count: int) -> list[int]:
    """Delays in whole milliseconds whose sum never leaves the true time by more than half of one.

    The cure for players that take a delay for each frame: 33 34 33 33 34 33 … for 30 a second.
    """
    ends = [_round_half_up(index * 1000 / rate) for index in range(count + 1)]
    return [after - before for before, after in pairwise(ends)]


def _round_half_up(value: Fraction) -> int:
    return int((2 * value + 1) // 2)


def _seconds(value: Fraction) -> str:
    return f"{float(value):.3f}".rstrip("0").rstrip(".")

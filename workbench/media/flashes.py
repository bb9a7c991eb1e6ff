"""Examines an animation for flashes by WCAG 2.2 SC 2.3.1, frame by frame, in memory that stays the same.

The panel is looked at as cells of about 0.1 degree (`flash_cells`). Every cell's luminance is followed from
peak to valley (`flash_rules`), its redness by both wordings (`flash_red`). A second fails if more than six
turns fall into it, on a tenth of the panel or more (`flash_window`): stricter than three complete flashes,
which is reported beside. No larger area is exempt: a panel held in the hand fills more of the eye than a
screen across the room.
"""

from __future__ import annotations

from collections import deque
from fractions import Fraction
from typing import Any

from workbench.media.flash_cells import Cells, Plane, open_cells
from workbench.media.flash_red import RedTurns
from workbench.media.flash_remedies import find_dim, find_red_dim, find_slower
from workbench.media.flash_rules import STEP, UNIT, Turns, darker_is_dark, linear
from workbench.media.flash_verdict import FlashRule, FlashVerdict
from workbench.media.flash_window import MOST, SECOND, Window

_WEIGHTS = (0.2126, 0.7152, 0.0722)
_RED_RULES: tuple[FlashRule, FlashRule] = ("red 2.0", "red 2.2")


class FlashAnalyser:
    """Give it every frame with the time at which it is shown, then ask for the verdict, once."""

    def __init__(self, width: int, height: int, *, loops: bool = False, plain: bool = False) -> None:
        """For frames of `width` × `height`; `loops` where the device shows them over and over.

        `plain` does without numpy even where it is installed.
        """
        self._cells = open_cells(width, height, plain=plain)
        self._tables = [
            self._cells.make_table([round(weight * UNIT * linear(each / 255)) for each in range(256)])
            for weight in _WEIGHTS
        ]
        self._loops = loops
        self._first_second: list[tuple[Fraction, tuple[Plane, Plane, Plane]]] = []
        self._search = _Search(self._cells)
        self._begin: Fraction | None = None
        self._last = Fraction(0)
        self._delay = SECOND

    def feed(self, frame: Any, time: Fraction) -> None:
        """Examine the frame that is shown from `time` (seconds, later than the one before).

        `frame` is a picture of Pillow's, or the RGB bytes of it in any buffer (a numpy array among them).
        """
        colours = self._cells.reduce(frame)
        if self._begin is None:
            self._begin = time
        elif time <= self._last:
            raise ValueError("frames have to come in the order of their times")
        else:
            self._delay = min(self._delay, time - self._last)
        since, self._last = time - self._begin, time
        if self._loops and since < SECOND:
            self._first_second.append((since, colours))
        self._search.look_at(self._luminance(colours), colours, since)

    def finish(self, length: Fraction | None = None) -> FlashVerdict:
        """The verdict on all of it; `length` (seconds) where the last frame stands longer than the others."""
        length = length or self._last - (self._begin or 0) + self._delay
        if self._loops and self._first_second:
            self._look_again(length)
        return self._search.judge(length, self._delay)

    def _look_again(self, length: Fraction) -> None:
        """One second more, of the next time round: what follows that is as it was the first time."""
        round_begins = length
        while round_begins < length + SECOND:
            for since, colours in self._first_second:
                if round_begins + since < length + SECOND:
                    self._search.look_at(self._luminance(colours), colours, round_begins + since)
            round_begins += length

    def _luminance(self, colours: tuple[Plane, Plane, Plane]) -> Plane:
        parts = [
            self._cells.look_up(plane, table) for plane, table in zip(colours, self._tables, strict=True)
        ]
        (whole,) = self._cells.run(lambda _, red, green, blue: [red + green + blue], *parts)
        return whole


class _Search:
    """Both kinds of turns, and what the seconds that fail had in them."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._turns: Turns | None = None
        self._red_turns = RedTurns(cells)
        self._general = Window(cells)
        self._reds = (Window(cells), Window(cells))
        self._lights: deque[tuple[Fraction, int, int]] = deque()
        self._failing = (UNIT, 0)
        """Darkest and brightest cell in all seconds that fail by luminance."""

    def look_at(self, luminance: Plane, colours: tuple[Plane, Plane, Plane], time: Fraction) -> None:
        self._remember_light(luminance, time)
        if self._turns is None:
            self._turns = Turns(self._cells, STEP, luminance)
        elif self._general.add(time, *self._turns.follow(luminance, darker_is_dark)):
            darkest, brightest = self._failing
            self._failing = (
                min(darkest, *(low for _, low, _ in self._lights)),
                max(brightest, *(high for _, _, high in self._lights)),
            )
        made = self._red_turns.follow(colours, time)
        for window, masks in zip(self._reds, made or (), strict=False):
            window.add(time, *masks)

    def _remember_light(self, luminance: Plane, time: Fraction) -> None:
        # One frame more than a second: the first turn in it was a turn away from the frame before.
        while len(self._lights) > 1 and time - self._lights[1][0] >= SECOND:
            self._lights.popleft()
        low, high = self._cells.extremes(luminance)
        self._lights.append((time, int(low), int(high)))

    def judge(self, length: Fraction, delay: Fraction) -> FlashVerdict:
        windows = (self._general, *self._reds)
        failing = [window for window in windows if window.transitions > MOST]
        red = max(window.transitions for window in self._reds)
        spans = [window.span for window in failing if window.span]
        until = min((window.until for window in failing if window.until is not None), default=length)
        return FlashVerdict(
            passes=not failing,
            first_failing_second=min(
                (each.since for each in failing if each.since is not None), default=None
            ),
            general_flashes=self._general.transitions // 2,
            red_flashes=red // 2,
            transitions=self._general.transitions,
            red_transitions=red,
            failed=self._failed_rules(failing),
            area=max(window.area for window in windows),
            slower=find_slower(min(spans), delay) if spans else None,
            dim=self._find_dim(),
            shorter=until if 0 < until < length else None,
        )

    def _failed_rules(self, failing: list[Window]) -> tuple[FlashRule, ...]:
        literal: list[FlashRule] = ["general"] if self._general.transitions // 2 > MOST // 2 else []
        literal += [
            rule
            for rule, window in zip(_RED_RULES, self._reds, strict=True)
            if window.transitions // 2 > MOST // 2
        ]
        return (*literal, "strict") if failing else ()

    def _find_dim(self) -> Fraction | None:
        by_value, by_distance = self._reds
        if by_distance.transitions > MOST:
            return None  # Dimmed red is as red as before.
        dims = []
        if self._general.transitions > MOST:
            dims.append(find_dim(*self._failing))
        if by_value.transitions > MOST:
            dims.append(find_red_dim(UNIT))
        return min(dims) if dims and None not in dims else None  # type: ignore[type-var]

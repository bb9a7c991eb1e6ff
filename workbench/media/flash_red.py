"""Red flashes, in both wordings, on all cells at once. Costs nothing while no cell is a saturated red.

By WCAG 2.0 and 2.1 the value (R - G - B) × 320 turns by more than 20. By 2.2 (ISO 9241-391) one of two
states is a saturated red and they are more than 0.2 apart in the CIE 1976 u'v' diagram; there, what turns is
a cell that leaves red for the state farthest from it, or comes back from that.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from workbench.media.flash_cells import Cells, Operand, Plane
from workbench.media.flash_rules import (
    DARK,
    RED_DISTANCE,
    RED_STEP,
    UNIT,
    Turns,
    linear,
    was_saturated,
)

Colours = tuple[Plane, Plane, Plane]
Made = tuple[Plane, Plane]
"""Masks: what turned, and what of it turned towards red."""

_PURE_RED = (0.4507, 0.5229)
"""u'v' of the reddest that a panel of these primaries shows."""
_NO_RED, _NO_OTHER = 9.0, -1.0
"""Squared distances from pure red that no colour has: none was seen since the last turn."""
_FORGET = 1
"""Seconds without red after which the search starts anew."""


class RedTurns:
    """Feeds both wordings' searches for as long as there is red to be seen."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._light = cells.make_table([round(UNIT * linear(each / 255)) for each in range(256)])
        self._before: Colours | None = None
        self._last_red: Any = None
        self._turns: Turns | None = None
        self._sticky: Plane = None
        self._leaving: LeavingRed | None = None

    def follow(self, colours: Colours, time: Any) -> tuple[Made, Made] | None:
        """What turned by the wording of 2.0 and by that of 2.2; None while there is nothing to look for."""
        before, self._before = self._before, colours
        if self._last_red is None and not self._cells.may_be_red(*colours):
            return None
        lights, value, red = self._look_at(colours)
        if self._cells.share(red):
            self._last_red = time
        elif self._last_red is None:
            return None
        elif time - self._last_red > _FORGET:
            self._last_red = self._turns = self._leaving = None
            return None
        if self._turns is None or self._leaving is None:
            self._begin(colours if before is None else before)
        return self._turn(value, red), self._leave(lights, red)

    def _begin(self, colours: Colours) -> None:
        """With the frame before the first red one: that is what it turns from."""
        lights, value, red = self._look_at(colours)
        self._turns, self._sticky = Turns(self._cells, RED_STEP, value), red
        self._leaving = LeavingRed(self._cells)
        self._leave(lights, red)

    def _turn(self, value: Plane, red: Plane) -> Made:
        assert self._turns is not None
        (self._sticky,) = self._cells.run(lambda _, one, other: [one | other], self._sticky, red)
        made, up = self._turns.follow(value, was_saturated, self._sticky)
        (self._sticky,) = self._cells.run(_start_over, self._sticky, red, made)
        return made, up

    def _leave(self, lights: list[Plane], red: Plane) -> Made:
        assert self._leaving is not None
        u, v, far = self._cells.run(_chromaticity, *lights)
        return self._leaving.follow(u, v, far, red)

    def _look_at(self, colours: Colours) -> tuple[list[Plane], Plane, Plane]:
        """R, G and B in units of light; R - G - B, at least 0; whether R makes 0.8 of the sum, not dark."""
        lights = [self._cells.look_up(plane, self._light) for plane in colours]
        value, red = self._cells.run(_redness, *lights)
        return lights, value, red


class LeavingRed:
    """The wording of 2.2: per cell, the reddest and the least red state since it last turned."""

    def __init__(self, cells: Cells) -> None:
        self._cells = cells
        self._phase = cells.fill(0)
        self._red = [cells.fill(0.0), cells.fill(0.0), cells.fill(_NO_RED)]
        self._other = [cells.fill(0.0), cells.fill(0.0), cells.fill(_NO_OTHER)]

    def follow(self, u: Plane, v: Plane, far: Plane, saturated: Plane) -> Made:
        """Masks: what turned, and what of it turned to red."""
        made, back, self._phase, *extremes = self._cells.run(
            _leave, u, v, far, saturated, self._phase, *self._red, *self._other
        )
        self._red, self._other = extremes[:3], extremes[3:]
        return made, back


def _redness(ops: Any, red: Operand, green: Operand, blue: Operand) -> Sequence[Operand]:
    others = green + blue
    twice = others + others
    dark = int(UNIT * DARK)
    # The slack is that of the three rounded parts, as in the general rule.
    return ops.max(red - others, others - others), (red - twice - twice >= -4) & (red >= dark)


def _start_over(_: Any, sticky: Operand, red: Operand, made: Operand) -> Sequence[Operand]:
    return [(sticky & (made < 1)) | red]


def _chromaticity(ops: Any, red: Operand, green: Operand, blue: Operand) -> Sequence[Operand]:
    """u', v' and the squared distance from pure red; what is dark stands far from everything."""
    dark = ops.as_float(red + green + blue < int(UNIT * DARK))
    red, green, blue = ops.as_float(red), ops.as_float(green), ops.as_float(blue)
    x = red * 0.4124564 + green * 0.3575761 + blue * 0.1804375
    y = red * 0.2126729 + green * 0.7151522 + blue * 0.0721750
    z = red * 0.0193339 + green * 0.1191920 + blue * 0.9503041
    whole = x + y * 15.0 + z * 3.0 + 1.0
    u, v = x * 4.0 / whole, y * 9.0 / whole
    u, v = u - dark * (u + 1.0), v - dark * (v + 1.0)
    return u, v, _apart(u, v, *_PURE_RED)


def _leave(
    ops: Any,
    u: Any,
    v: Any,
    far: Any,
    red: Any,
    phase: Any,
    ru: Any,
    rv: Any,
    rf: Any,
    ou: Any,
    ov: Any,
    of: Any,
) -> Sequence[Operand]:
    reddest = ops.as_float((red > 0) & ops.as_mask(far < rf))
    ru, rv, rf = (old + reddest * (new - old) for old, new in ((ru, u), (rv, v), (rf, far)))
    least = ops.as_float((red < 1) & ops.as_mask(far > of))
    ou, ov, of = (old + least * (new - old) for old, new in ((ou, u), (ov, v), (of, far)))
    back = (red > 0) & (phase < 1) & ops.as_mask(of >= 0.0) & ops.as_mask(_apart(u, v, ou, ov) > RED_DISTANCE)
    left = (back < 1) & (phase > -1) & ops.as_mask(rf < _NO_RED)
    left = left & ops.as_mask(_apart(u, v, ru, rv) > RED_DISTANCE)
    # After a turn only the state that it turned to counts; the other side has yet to be seen.
    to_red, from_red = ops.as_float(back), ops.as_float(left)
    of = of + to_red * (_NO_OTHER - of)
    rf = rf + from_red * (_NO_RED - rf)
    phase = phase + (back * 1) * (1 - phase) - (left * 1) * (phase + 1)
    return back | left, back, phase, ru, rv, rf, ou, ov, of


def _apart(u: Operand, v: Operand, other_u: Any, other_v: Any) -> Operand:
    across, up = u - other_u, v - other_v
    return across * across + up * up

"""What WCAG 2.x SC 2.3.1 calls a transition, as formulas on all cells at once.

A transition is a change between a peak and a valley, over however many frames it takes. So every cell has a
direction and the extreme that it reached in it; once it is far enough from that extreme it has turned, and
what it turned at is the start of the next search. Before the first turn both directions are looked for.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from workbench.media.flash_cells import Cells, Operand, Plane

UNIT = 10_000_000
"""Full light, as the whole number that formulas count in: sums of rounded parts stay equal everywhere."""

STEP = UNIT // 10 - 2
"""A tenth of the maximum relative luminance, with a slack for the three rounded parts."""
BRIGHT = UNIT * 8 // 10
"""A pair whose darker image is not under this is no flash."""
RED_STEP = UNIT * 20 // 320 - 1
"""A change of more than 20 in (R - G - B) × 320, with the same slack (wording of WCAG 2.0 and 2.1)."""
RED_DISTANCE = 0.2 * 0.2
"""Squared distance in the CIE 1976 u'v' diagram (wording of WCAG 2.2)."""

DARK = 0.01
"""R + G + B (linear) under which a cell counts as black. Black has no u'v' (open W3C issue 4285) and is
counted against red; so close to it, single steps of an 8-bit value would be jumps in u'v'."""

Allowed = Callable[..., Sequence[Operand]]
"""A formula of (signed value, signed extreme, value, masks): where a turn counts, and where a first fall
does."""


def linear(value: float) -> float:
    """Linear light of an encoded value (0..1), as the definition of relative luminance has it."""
    return value / 12.92 if value <= 0.03928 else float(((value + 0.055) / 1.055) ** 2.4)


def encoded(light: float) -> float:
    """The inverse of `linear`."""
    return light * 12.92 if light <= 0.03928 / 12.92 else 1.055 * float(light ** (1 / 2.4)) - 0.055


class Turns:
    """Per cell, the turns of one value that rises and falls."""

    def __init__(self, cells: Cells, step: int, first: Plane) -> None:
        self._cells, self._step = cells, step
        self._sign, self._high = cells.fill(-1), first
        self._virgin: Plane | None = cells.fill(1)
        (self._extreme,) = cells.run(lambda _, value: [value * -1], first)
        self._frames = 0

    def follow(self, value: Plane, allowed: Allowed, *masks: Plane) -> tuple[Plane, Plane]:
        """Masks: what turned at this value, and what of it turned upwards."""
        if self._virgin is None:
            made, up, self._extreme, self._sign = self._cells.run(
                self._later_turns(allowed), value, self._extreme, self._sign, *masks
            )
            return made, up
        made, up, self._extreme, self._sign, self._virgin, self._high = self._cells.run(
            self._first_turns(allowed), value, self._extreme, self._sign, self._virgin, self._high, *masks
        )
        self._frames += 1
        if self._frames % 32 == 0 and not self._cells.share(self._virgin):
            self._virgin = None
        return made, up

    def _later_turns(self, allowed: Allowed) -> Callable[..., Sequence[Operand]]:
        def formula(ops: Any, value: Any, extreme: Any, sign: Any, *masks: Any) -> Sequence[Operand]:
            signed = sign * value
            extreme = ops.max(extreme, signed)
            turned = (extreme - signed >= self._step) & allowed(signed, extreme, value, *masks)[0]
            sign = sign - (sign + sign) * turned
            return turned, turned & (sign > 0), extreme - (extreme + signed) * turned, sign

        return formula

    def _first_turns(self, allowed: Allowed) -> Callable[..., Sequence[Operand]]:
        """As above; a cell that has not turned yet may also do so by falling from the highest it had."""

        def formula(
            ops: Any, value: Any, extreme: Any, sign: Any, virgin: Any, high: Any, *masks: Any
        ) -> Sequence[Operand]:
            signed = sign * value
            extreme, high = ops.max(extreme, signed), ops.max(high, value)
            may_turn, may_fall = allowed(signed, extreme, value, *masks)
            turned = (extreme - signed >= self._step) & may_turn
            fell = (high - value >= self._step) & may_fall & (virgin > 0)
            made = turned | fell
            extreme = extreme - (extreme + signed) * turned - (extreme - signed) * fell
            sign = sign - (sign + sign) * turned
            return made, made & (sign > 0), extreme, sign, virgin - virgin * made, high

        return formula


def darker_is_dark(signed: Operand, extreme: Operand, value: Operand) -> Sequence[Operand]:
    """The general rule: of the pair, the darker one must be under 0.80."""
    # Falling, the value itself is the darker one; rising, the extreme, which is kept with a minus.
    return (signed < BRIGHT) & (extreme > -BRIGHT), value < BRIGHT


def was_saturated(_signed: Operand, _extreme: Operand, _value: Operand, red: Operand) -> Sequence[Operand]:
    """The red rule of 2.0: a saturated red must have been among the states since the last turn."""
    return red > 0, red > 0

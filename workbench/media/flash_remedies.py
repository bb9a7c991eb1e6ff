"""How an animation that flashes too much could be made to pass. Each is a proposal, to be examined again."""

from __future__ import annotations

from fractions import Fraction

from workbench.media.flash_rules import RED_STEP, STEP, UNIT, encoded, linear

FINEST = 256
"""Dimming goes in steps of 1/256: what one step of a stored value can show."""
_MARGIN = 0.985
"""Colours that dim less than greys of the same light, and rounding to whole stored values."""


def find_slower(span: Fraction, delay: Fraction) -> Fraction:
    """How many times slower, so that seven turns which took `span` take a second.

    A frame is shown at whole delays, so each turn may come up to one delay late: that is allowed for.
    Rounded up to tenths, as a person would set it.
    """
    exact = (1 + delay) / span
    return Fraction(-(-exact * 10 // 1), 10)


def find_dim(darkest: int, brightest: int) -> Fraction | None:
    """What to multiply stored values by, so that nothing between these two lights is a step any more.

    Both in units of luminance. Changes between bright images, which do not count now, must not begin to:
    under half the light they are less than a tenth.
    """
    low, high = encoded(darkest / UNIT), encoded(brightest / UNIT)
    for part in range(FINEST - 1, 0, -1):
        dim = part / FINEST
        change = linear(dim * high) - linear(dim * low)
        if change < _MARGIN * STEP / UNIT and linear(dim) < 0.5:
            return Fraction(part, FINEST)
    return None


def find_red_dim(reddest: int) -> Fraction | None:
    """The same for the value R - G - B, as the wording of WCAG 2.0 counts it."""
    for part in range(FINEST - 1, 0, -1):
        if linear(part / FINEST * encoded(reddest / UNIT)) < _MARGIN * RED_STEP / UNIT:
            return Fraction(part, FINEST)
    return None

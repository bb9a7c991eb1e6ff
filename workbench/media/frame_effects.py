"""Dimming and fading of finished frames: one table of 256 values a channel, so that every path agrees."""

from __future__ import annotations

from fractions import Fraction

from workbench.media.frame_times import Timeline
from workbench.media.render_order import RenderOrder

Table = tuple[int, ...]
"""768 values: red, green, blue."""


def level_at(order: RenderOrder, timeline: Timeline, index: int) -> Fraction:
    """How much of a frame shows over the background, 0 to 1: all of it but in the fades.

    The first frame of a fade in and the last of a fade out are the background itself.
    """
    time = index * timeline.delay
    left = (timeline.count - 1) * timeline.delay - time
    level = Fraction(1)
    if order.fade_in > 0:
        level = min(level, time / order.fade_in)
    if order.fade_out > 0:
        level = min(level, left / order.fade_out)
    return level


def effect_table(order: RenderOrder, level: Fraction) -> Table | None:
    """What each stored value becomes, or None where nothing changes."""
    if level == 1 and order.dim == 1:
        return None
    shown, dim = float(level), float(order.dim)
    return tuple(
        round(dim * (ground + shown * (value - ground)))
        for ground in order.background
        for value in range(256)
    )

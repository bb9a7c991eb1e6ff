"""Chooses how long each frame is shown: what the person asks for, else what the card or the clip does.

Whatever is chosen, the device's settings can express it exactly.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from fractions import Fraction

from workbench.card.animation_pace import USUAL, Pace, decimals_of, fixed_pace, nearest_pace
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation
from workbench.errors import MediaError
from workbench.values import dataclass

_FULL_RATE = Fraction(28)
"""Frames a second from which on a clip counts as one of 30: it gets the usual delay."""


@dataclass(frozen=True, slots=True)
class ChosenPace:
    pace: Pace
    because: str
    """For a person: where it comes from."""


def choose_pace(
    rule: AnimationRule,
    others: Sequence[Animation],
    name: str,
    wanted: Fraction | None,
    source_rate: Fraction | None,
) -> ChosenPace:
    """The pace for one animation.

    Args:
        others: the animations on the card; the one of that name counts first.
        wanted: seconds from one frame to the next, as shown.
        source_rate: the clip's own frames a second.

    Raises:
        MediaError: the wish is no time at all.
    """
    if wanted is not None and wanted <= 0:
        raise MediaError("the time between two frames has to be more than 0; nothing was changed")
    fixed = fixed_pace(rule)
    if fixed is not None:
        return ChosenPace(fixed, "the device has no setting for it")
    decimals = _known_decimals(others)
    if wanted is not None:
        pace = nearest_pace(rule, wanted, decimals)
        is_exact = pace.delay == wanted
        return ChosenPace(pace, "as asked for" if is_exact else "the nearest that the settings can say")
    own = next((one.pace for one in others if one.name == name and one.pace is not None), None)
    if own is not None:
        return ChosenPace(own, "as it is now")
    paces = Counter(one.pace for one in others if one.pace is not None)
    if paces:
        return ChosenPace(paces.most_common(1)[0][0], "as the other animations on the card")
    if source_rate is not None and 0 < source_rate < _FULL_RATE:
        return ChosenPace(nearest_pace(rule, 1 / source_rate, decimals), "the clip's own rate")
    return ChosenPace(nearest_pace(rule, USUAL, decimals), "common practice for 30 frames a second")


def needs_rate(rule: AnimationRule, others: Sequence[Animation], wanted: Fraction | None) -> bool:
    """Whether the clip's own rate decides: then somebody has to look at the clip first."""
    return wanted is None and fixed_pace(rule) is None and all(one.pace is None for one in others)


def pace_from(rule: AnimationRule, others: Sequence[Animation], delay: Fraction) -> Pace | None:
    """The fastest pace that the settings can say with at least that delay; None where it cannot be set."""
    if fixed_pace(rule) is not None:
        return None
    decimals, wanted = _known_decimals(others), delay
    for _ in range(64):
        pace = nearest_pace(rule, wanted, decimals)
        if pace.delay >= delay:
            return pace
        wanted += max(delay - pace.delay, delay / 200)
    return None


def _known_decimals(others: Sequence[Animation]) -> int:
    """Digits behind the point that other animations use: the device understands these."""
    return max((decimals_of(one.pace.value) for one in others if one.pace is not None), default=0)

"""What the examination for flashes found: a screening by published thresholds, no clearance."""

from __future__ import annotations

from fractions import Fraction

from workbench.typed import Literal
from workbench.values import dataclass

FlashRule = Literal["general", "red 2.0", "red 2.2", "strict"]
"""Which wording: general flashes and red ones by WCAG 2.0/2.1 and by 2.2 (more than three complete flashes),
and our count of transitions (more than six, of any of these kinds)."""


@dataclass(frozen=True, slots=True)
class FlashVerdict:
    """Counts are the most that fall into any one second (half-open) of the animation, loops included."""

    passes: bool
    """By every rule here."""
    first_failing_second: Fraction | None
    """Seconds from the first frame to the beginning of the first second in which it fails."""
    general_flashes: int
    """Complete ones: pairs of opposing changes."""
    red_flashes: int
    """By either wording, the worse of both."""
    transitions: int
    """Single changes, general."""
    red_transitions: int
    failed: tuple[FlashRule, ...] = ()
    area: float = 0.0
    """The largest share of the panel (0 to 1) that flashes too often; under a tenth it is let go."""
    slower: Fraction | None = None
    """Remedy: how many times slower it would have to be shown; None where it passes."""
    dim: Fraction | None = None
    """Remedy: what all stored values would have to be multiplied by; None where it passes or no dimming
    helps."""
    shorter: Fraction | None = None
    """Remedy: seconds from the first frame that may stay; None where it passes or no cut helps. Each remedy
    is worked out from what was seen, and has to be examined again."""

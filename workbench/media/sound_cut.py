"""Which part of a sound is heard when."""

from __future__ import annotations

from fractions import Fraction

from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class SoundCut:
    """Times are seconds."""

    total: Fraction
    """What the device takes for all frames: the stored sound is as long, to the sample."""
    begin: Fraction | None = None
    """On the source's own clock (its time stamps): what is heard first. For a clip's own sound the time
    stamp of the picture that is shown first, so that both stay together. None for the sound's own
    beginning."""
    length: Fraction | None = None
    """How much of the source is heard at most, before `speed`; None for what fits."""
    speed: Fraction = Fraction(1)
    """2 is twice as fast; the pitch stays."""
    lead: Fraction = Fraction(0)
    """Silence in front, while the first picture stands still."""

"""How far picture and sound come apart: of the naive way, and of ours. Positive: the picture is late.

The naive way shows every frame of the source for one rounded delay. Ours samples the source at the times at
which the device shows its frames; what is left is the part of the last delay that the sound does not fill.
"""

from __future__ import annotations

from fractions import Fraction

NOTICED = (Fraction(45, 1000), Fraction(125, 1000))
"""Seconds that the sound may be early and late until it is noticed (ITU-R BT.1359-1)."""
ACCEPTABLE = (Fraction(90, 1000), Fraction(185, 1000))
"""The same, until it is no longer acceptable."""


def naive_drift(rate: Fraction, delay: Fraction, length: Fraction) -> Fraction:
    """Seconds after `length` seconds of a clip of `rate` frames a second, each shown for `delay` seconds."""
    return length * (delay * rate - 1)


def rounded_delay(rate: Fraction, draw: Fraction = Fraction(0)) -> Fraction:
    """What the naive way shows a frame for: the nearest whole millisecond, and the time that drawing
    takes."""
    return Fraction(round(1000 / rate), 1000) + draw


def our_drift(delay: Fraction, count: int, length: Fraction) -> Fraction:
    """Seconds between the end of `count` frames, `delay` each, and the end of what lasts `length` seconds."""
    return count * delay - length


def notice_after(rate: Fraction, delay: Fraction) -> Fraction | None:
    """Seconds until the naive way's drift is noticed; None where it never is."""
    each_second = delay * rate - 1
    if not each_second:
        return None
    return NOTICED[0 if each_second > 0 else 1] / abs(each_second)


def describe_drift(drift: Fraction) -> str:
    """The drift in words, by the thresholds of ITU-R BT.1359-1."""
    early = drift > 0
    side, apart = 0 if early else 1, abs(drift)
    where = f"the sound is {float(apart * 1000):.0f} ms {'early' if early else 'late'}"
    if apart > ACCEPTABLE[side]:
        return f"{where}, more than is acceptable ({_limit(ACCEPTABLE[side])})"
    if apart >= NOTICED[side]:
        return f"{where}, which is noticed (from {_limit(NOTICED[side])})"
    return f"{where}, which nobody notices (under {_limit(NOTICED[side])})" if apart else "in step"


def _limit(seconds: Fraction) -> str:
    return f"{int(seconds * 1000)} ms"

"""How long a device shows one frame: what its settings say, in their unit, and the time that it draws.

The device shows frame *i* at *i* times the delay; the delay is its wait plus the time to draw. Only waits
that the settings can really express are worked with, so that what is sampled is what is shown.
"""

from __future__ import annotations

from fractions import Fraction

from workbench.card.animation_rule import AnimationRule, Unit
from workbench.late_pattern import late_pattern
from workbench.typed import Any
from workbench.values import dataclass

USUAL = Fraction(35, 1000)
"""Seconds between two frames where nothing else tells: common practice for clips of 30 frames a second."""

_PER_SECOND: dict[str, int] = {"us": 1_000_000, "ms": 1000, "s": 1}
_DECIMALS: dict[str, int] = {"us": 0, "ms": 0, "s": 3, "fps": 0}
_NUMBER = late_pattern(r"\s*(\d{1,9})(?:\.(\d{1,9}))?\s*")
_FASTEST = Fraction(1000)
"""Frames a second beyond which no settings go."""


@dataclass(frozen=True, slots=True)
class Pace:
    """One number in the settings, and what it means."""

    value: Fraction
    """What the settings say: a wait, or frames a second; more than 0."""
    unit: Unit
    draw: Fraction
    """Seconds that the device draws, besides its wait."""

    @property
    def wait(self) -> Fraction:
        """Seconds that the device waits between two frames."""
        return 1 / self.value if self.unit == "fps" else self.value / _PER_SECOND[self.unit]

    @property
    def delay(self) -> Fraction:
        """Seconds from one frame to the next, as the device shows them."""
        return self.wait + self.draw

    @property
    def text(self) -> str:
        """The number as it is written: `35`, `12.5`."""
        return write_number(self.value)

    def describe(self) -> str:
        """For a person: `35 ms`, `12.5 frames a second`."""
        return f"{self.text} frames a second" if self.unit == "fps" else f"{self.text} {self.unit}"


def write_number(value: Fraction) -> str:
    """A decimal number without zeros that say nothing. Exact for up to nine digits behind the point."""
    whole, rest = divmod(value, 1)
    digits = str(round(rest * 10**9)).zfill(9).rstrip("0")
    return f"{whole}.{digits}" if digits else str(whole)


def read_number(value: Any) -> Fraction | None:
    """The number that a settings' value is, not negative; None where it is none."""
    if isinstance(value, bool) or value is None:
        return None
    text = format(value, "f") if isinstance(value, float) else str(value)
    found = _NUMBER.fullmatch(text)
    return Fraction(f"{found[1]}.{found[2] or 0}") if found else None


def decimals_of(value: Fraction) -> int:
    """Digits behind the point, as it is written."""
    return len(write_number(value).partition(".")[2])


def draw_time(rule: AnimationRule) -> Fraction:
    """Seconds that the device needs to draw one frame."""
    return Fraction(str(rule.draw_ms)) / 1000


def read_pace(rule: AnimationRule, value: Any) -> Pace | None:
    """What a settings' value says; None where it is no number above 0."""
    number = read_number(value)
    if number is None or number <= 0 or rule.settings is None:
        return None
    return Pace(number, rule.settings.unit, draw_time(rule))


def fixed_pace(rule: AnimationRule) -> Pace | None:
    """The pace of a device whose settings do not tell; None where they do, or nobody knows it."""
    if (rule.settings is not None and rule.settings.pace is not None) or not rule.delay_ms:
        return None
    return Pace(Fraction(str(rule.delay_ms)), "ms", draw_time(rule))


def nearest_pace(rule: AnimationRule, delay: Fraction, decimals: int = 0) -> Pace:
    """The pace that comes nearest to a delay between two frames as they are shown, draw time counted in.

    Args:
        delay: seconds, more than 0.
        decimals: digits behind the point that this device is known to take, beyond those of the rule.
    """
    fixed = fixed_pace(rule)
    if fixed is not None:
        return fixed
    draw = draw_time(rule)
    unit: Unit = rule.settings.unit if rule.settings is not None else "ms"
    known = rule.settings.decimals if rule.settings is not None else None
    step = Fraction(1, 10 ** (known if known is not None else max(_DECIMALS[unit], decimals)))
    wait = delay - draw
    if wait <= 0:
        wanted = _FASTEST if unit == "fps" else step
    else:
        wanted = min(_FASTEST, 1 / wait) if unit == "fps" else wait * _PER_SECOND[unit]
    below = max(step, wanted // step * step)
    above = min(below + step, _FASTEST) if unit == "fps" else below + step
    candidates = (Pace(below, unit, draw), Pace(above, unit, draw))
    return min(candidates, key=lambda pace: abs(pace.delay - delay))

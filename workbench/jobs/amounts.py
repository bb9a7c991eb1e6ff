"""Amounts as a person types them: times, numbers, sizes and parts of a picture."""

from __future__ import annotations

from fractions import Fraction

from workbench.errors import UsageError
from workbench.late_pattern import late_pattern

_TIME = late_pattern(r"(?:(\d+):)?(?:(\d{1,2}):)?(\d+(?:\.\d+)?|\.\d+)s?")
_NUMBER = late_pattern(r"[+-]?(?:\d+(?:\.\d+)?|\.\d+)(?:/[1-9]\d*)?")
_LONGEST = 40


def read_time(text: str, option: str) -> Fraction:
    """Seconds: `2.5`, `1:30`, `0:01:30.25`.

    Raises:
        UsageError: it is no time; `option` is named.
    """
    found = _TIME.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if found is None:
        raise UsageError(f"{option} takes a time such as 2.5 or 1:30, not {text!r}")
    hours, minutes = (found[1], found[2]) if found[2] is not None else (None, found[1])
    return Fraction(found[3]) + 60 * int(minutes or 0) + 3600 * int(hours or 0)


def read_times(text: str, option: str) -> tuple[Fraction, Fraction]:
    """One time for both ends, or `IN,OUT`."""
    parts = text.split(",")
    if len(parts) > 2:
        raise UsageError(f"{option} takes one time, or two with a comma between them, not {text!r}")
    times = [read_time(part, option) if part.strip() else Fraction(0) for part in parts]
    return times[0], times[-1]


def read_number(text: str, option: str, *, least: Fraction | None = None) -> Fraction:
    """A number, or a fraction such as `30000/1001`.

    Raises:
        UsageError: it is none, or not above `least`.
    """
    found = _NUMBER.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if found is None:
        raise UsageError(f"{option} takes a number, not {text!r}")
    whole, _, part = found[0].partition("/")
    number = Fraction(whole) / (int(part) if part else 1)
    if least is not None and number <= least:
        raise UsageError(f"{option} takes a number above {least}, not {text!r}")
    return number


def read_whole(text: str, option: str, least: int, most: int) -> int:
    """A whole number within bounds."""
    if not text.isascii() or not text.isdigit() or len(text) > 9 or not least <= int(text) <= most:
        raise UsageError(f"{option} takes a whole number from {least} to {most}, not {text!r}")
    return int(text)


def read_size(text: str, option: str) -> tuple[int, int]:
    """`640x480`."""
    width, cross, height = text.lower().replace("×", "x").partition("x")
    if not cross:
        raise UsageError(f"{option} takes a size such as 640x480, not {text!r}")
    return read_whole(width.strip(), option, 1, 16384), read_whole(height.strip(), option, 1, 16384)


def read_crop(text: str, option: str) -> tuple[int, int, int, int]:
    """`X,Y,WIDTH,HEIGHT`."""
    parts = text.split(",")
    if len(parts) != 4:
        raise UsageError(f"{option} takes X,Y,WIDTH,HEIGHT in pixels of the clip, not {text!r}")
    x, y, width, height = (read_whole(part.strip(), option, 0, 65536) for part in parts)
    if not width or not height:
        raise UsageError(f"{option} would leave nothing of the picture: {text!r}")
    return x, y, width, height


def read_delay(delay: str | None, rate: str | None) -> Fraction | None:
    """Seconds from one frame to the next, of `--delay` in milliseconds or `--rate` in frames a second."""
    if delay is not None and rate is not None:
        raise UsageError("--delay and --rate say the same: give one of them")
    if delay is not None:
        return read_number(delay, "--delay", least=Fraction(0)) / 1000
    return None if rate is None else 1 / read_number(rate, "--rate", least=Fraction(0))

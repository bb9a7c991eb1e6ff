"""What a person wishes of a boot animation. Values only; times are seconds, as fractions."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Literal

from workbench.media.colours import Colour
from workbench.media.levels import Dither
from workbench.media.render_order import ClipFit
from workbench.values import dataclass

Remedy = Literal["slower", "dimmed", "shortened"]
REMEDIES: tuple[Remedy, ...] = ("slower", "dimmed", "shortened")


@dataclass(frozen=True, slots=True)
class Budget:
    """What the animation may cost: room on the card, or time at start. One of the two, or both."""

    bytes: int | None = None
    """Most bytes on the card, in whole allocation units."""
    seconds: Fraction | None = None
    """Most seconds that the start takes longer."""


@dataclass(frozen=True, slots=True)
class AnimateWish:
    """One boot animation to be made of one clip."""

    source: Path
    name: str
    start: Fraction = Fraction(0)
    length: Fraction | None = None
    """Of the source; None for all of it."""
    speed: Fraction = Fraction(1)
    crop: tuple[int, int, int, int] | None = None
    fit: ClipFit = "contain"
    background: Colour = (0, 0, 0)
    delay: Fraction | None = None
    """Wanted time from one frame to the next as the device shows them; None for the card's or clip's own."""
    hold_start: Fraction = Fraction(0)
    hold_end: Fraction = Fraction(0)
    fade_in: Fraction = Fraction(0)
    fade_out: Fraction = Fraction(0)
    dim: Fraction = Fraction(1)
    loops: int | None = None
    """How often it plays; None leaves that to what is there."""
    colours: int | None = None
    dither: Dither = "none"
    sound: Path | None = None
    """A file of its own; None for the clip's."""
    silent: bool = False
    loudness: Fraction | None = None
    """LUFS; None keeps the source's."""
    art_frame: int | None = None
    """Which frame becomes the art, counted from 0; None for the middle one, where the profile has art."""
    author: str | None = None
    label: str | None = None
    choose: bool = False
    """Whether it shall play at start."""
    budget: Budget | None = None
    remedy: Remedy | None = None
    """What to do where it flashes too much."""


@dataclass(frozen=True, slots=True)
class Progress:
    """How far a long work has come."""

    what: str
    """What is being done, for a person: `rendering`, `trying 256 colours`."""
    done: int
    total: int | None
    """None where nobody knows yet."""


OnProgress = Callable[[Progress], None]
Cancelled = Callable[[], bool]


def ignore(_progress: Progress) -> None:
    """Nobody looks."""


def never() -> bool:
    """Nobody cancels."""
    return False

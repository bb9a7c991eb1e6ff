"""Animated GIF, PNG and WebP, read by Pillow, which disposes and blends; durations are checked here."""

from __future__ import annotations

from collections.abc import Generator, Iterator
from fractions import Fraction
from itertools import accumulate
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media import plugins
from workbench.media.clip_drawing import draw_picture
from workbench.media.clip_facts import ClipFacts
from workbench.media.frame_pixels import Pixels
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

MAX_PICTURES = 20_000
"""More than any animation is made of; an endless file stops here."""

SHORTEST = Fraction(2, 100)
"""A shorter duration was not meant (common practice of browsers, no source) …"""
INSTEAD = Fraction(10, 100)
"""… and this long is shown instead."""


@dataclass(frozen=True, slots=True)
class _Picture:
    at: Fraction
    image: Image
    order: RenderOrder

    def draw(self) -> Pixels:
        return draw_picture(self.image, self.order)


def is_picture(beginning: bytes) -> bool:
    """Whether a file begins as a picture, animated or still; a still one is a clip of one picture."""
    is_webp = beginning[:4] == b"RIFF" and beginning[8:12] == b"WEBP"
    return is_webp or plugins.common_format(beginning) is not None


class AnimatedPicture:
    """One file. Its pictures are decoded once to learn their times, and again to be drawn."""

    def __init__(self, path: Path, order: RenderOrder) -> None:
        self._path = path
        self._order = order
        self._torn = False
        self.origin = Fraction(0)
        self.slack = Fraction(0)
        self._durations, size, alpha = self._survey()
        self._corrected = sum(duration < SHORTEST for duration in self._durations)
        self._durations = [INSTEAD if each < SHORTEST else each for each in self._durations]
        span = sum(self._durations, Fraction(0))
        steady = len(set(self._durations)) == 1
        self.facts = ClipFacts(
            "animated",
            *size,
            frames=len(self._durations),
            duration=span,
            rate=1 / self._durations[0] if steady else None,
            variable=not steady,
            alpha=alpha,
            notes=self.remarks(),
        )

    def find_end(self) -> Fraction:
        return self.facts.duration

    def count_pictures(self, start: Fraction, stop: Fraction) -> int:
        begins = accumulate(self._durations[:-1], initial=Fraction(0))
        return sum(start <= begin < stop for begin in begins)

    def shots(self, start: Fraction) -> Generator[_Picture, None, None]:
        at = Fraction(0)
        for duration, image in zip(self._durations, self._images(), strict=False):
            if at + duration > start:
                yield _Picture(at, plugins.plain_modes(image), self._order)
            at += duration

    def remarks(self) -> tuple[str, ...]:
        notes = []
        if self._torn:
            notes.append(f"The file is torn after picture {len(self._durations)}; what is whole is shown.")
        if self._corrected:
            notes.append(
                f"{self._corrected} pictures state less than {float(SHORTEST) * 1000:.0f} ms, "
                f"which was not meant; each stands for {float(INSTEAD) * 1000:.0f} ms, as browsers have it."
            )
        return tuple(notes)

    def _survey(self) -> tuple[list[Fraction], tuple[int, int], bool]:
        durations: list[Fraction] = []
        size, alpha = (0, 0), False
        for image in self._images():
            if len(durations) == MAX_PICTURES:
                raise MediaError(f"it holds more than {MAX_PICTURES:,} pictures, which no animation needs")
            # Read only once loaded: APNG and WebP tell a picture's duration no earlier.
            stated = image.info.get("duration", 0)
            durations.append(_as_fraction(stated))
            size = image.size
            alpha = alpha or image.mode in ("RGBA", "LA", "PA") or "transparency" in image.info
        if not durations:
            raise MediaError("no picture in it could be decoded")
        return durations, size, alpha

    def _images(self) -> Iterator[ImageFile]:
        """The pictures as Pillow composes them; stops at the first that is torn, if one came before."""
        with plugins.reading_pictures(), open(self._path, "rb") as file:
            picture = plugins.open_any(file)
            plugins.check_size(picture)
            # A PNG's first picture may be for readers that know no animation, and no part of it.
            index = first = int(getattr(picture, "default_image", False))
            while True:
                try:
                    picture.seek(index)
                    picture.load()
                except EOFError:
                    return
                except (OSError, SyntaxError, ValueError):
                    if index == first:
                        raise
                    self._torn = True
                    return
                yield picture
                index += 1


def _as_fraction(milliseconds: object) -> Fraction:
    if not isinstance(milliseconds, (int, float)) or milliseconds < 0:
        return Fraction(0)
    # APNG states a fraction of a second, which Pillow hands on as a float of milliseconds.
    return Fraction(milliseconds).limit_denominator(1000) / 1000

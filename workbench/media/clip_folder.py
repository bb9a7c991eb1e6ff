"""A folder of numbered pictures as a clip: in the order of their numbers, however the digits are padded."""

from __future__ import annotations

import re
from collections.abc import Generator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

from workbench.errors import MediaError
from workbench.media.animated_picture import MAX_PICTURES
from workbench.media.clip_drawing import draw_picture
from workbench.media.clip_facts import ClipFacts
from workbench.media.frame_pixels import Pixels
from workbench.media.picture import read_picture
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

_SUFFIXES = {".png", ".jpg", ".jpeg", ".bmp", ".gif", ".webp", ".tif", ".tiff", ".ppm", ".tga"}
_NUMBERED = re.compile(r"(.*?)([0-9]+)([^0-9]*)", re.DOTALL)
"""Of several numbers in a stem the last one counts: `part2_frame013b` is 13."""


@dataclass(frozen=True, slots=True)
class _NumberedPicture:
    at: Fraction
    path: Path
    order: RenderOrder

    def draw(self) -> Pixels:
        return draw_picture(read_picture(self.path), self.order)


class PictureFolder:
    """One folder. Each picture stands for the order's `source_delay`, or for one of the device's delays."""

    def __init__(self, path: Path, order: RenderOrder) -> None:
        self._order = order
        self.origin = Fraction(0)
        self.slack = Fraction(0)
        self._each = order.source_delay or order.delay
        numbered, self._left_out = find_numbered(path)
        if not numbered:
            raise MediaError("the folder holds no numbered pictures (such as 0.png, 1.png, …)")
        self._pictures = [file for _, file in numbered]
        self._gaps = find_gaps([number for number, _ in numbered])
        first = read_picture(self._pictures[0])
        self.facts = ClipFacts(
            "pictures",
            *first.size,
            frames=len(self._pictures),
            duration=self.find_end(),
            rate=1 / self._each,
            alpha=first.mode == "RGBA",
            notes=self.remarks(),
        )

    def find_end(self) -> Fraction:
        return len(self._pictures) * self._each

    def count_pictures(self, start: Fraction, stop: Fraction) -> int:
        return sum(start <= index * self._each < stop for index in range(len(self._pictures)))

    def shots(self, start: Fraction) -> Generator[_NumberedPicture, None, None]:
        for index in range(min(int(start / self._each), len(self._pictures)), len(self._pictures)):
            yield _NumberedPicture(index * self._each, self._pictures[index], self._order)

    def remarks(self) -> tuple[str, ...]:
        notes = []
        if self._gaps:
            missing = ", ".join(
                str(low) if low == high else f"{low} to {high}" for low, high in self._gaps[:5]
            )
            more = f" and {len(self._gaps) - 5} more gaps" if len(self._gaps) > 5 else ""
            notes.append(
                f"The numbers {missing}{more} are missing; the pictures beside them follow each other."
            )
        if self._left_out:
            notes.append(
                f"{self._left_out} other pictures in the folder belong to no such row and are left out."
            )
        return tuple(notes)


def find_numbered(folder: Path) -> tuple[list[tuple[int, Path]], int]:
    """The longest row of pictures of one name and suffix, by number, and how many pictures are no part of it.

    Of two pictures with one number (`1.png`, `01.png`) the shorter name counts.

    Raises:
        MediaError: the folder cannot be read, or holds far too many.
    """
    rows: dict[tuple[str, str], dict[int, Path]] = {}
    pictures = 0
    try:
        for file in sorted(folder.iterdir(), key=lambda each: (len(each.name), each.name)):
            if file.suffix.lower() not in _SUFFIXES or file.name.startswith("."):
                continue
            pictures += 1
            if found := _NUMBERED.fullmatch(file.stem):
                row = rows.setdefault((found[1], found[3] + file.suffix.lower()), {})
                row.setdefault(int(found[2]), file)
    except OSError as error:
        raise MediaError(f"the folder could not be read ({error.strerror or error})") from error
    longest = max(rows.values(), key=len, default={})
    if len(longest) > MAX_PICTURES:
        raise MediaError(f"it holds more than {MAX_PICTURES:,} pictures, which no animation needs")
    return sorted(longest.items()), pictures - len(longest)


def find_gaps(numbers: list[int]) -> list[tuple[int, int]]:
    """First and last missing number of each gap."""
    return [(before + 1, after - 1) for before, after in pairwise(numbers) if after > before + 1]

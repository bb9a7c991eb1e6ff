"""Pictures in a terminal: a cell is U+2580 and two pixels, its foreground above, its background below."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.media.colours import Colour
from workbench.media.fitting import contained, flatten

if TYPE_CHECKING:
    from PIL.Image import Image

HALF_BLOCK = "\u2580"
Cell = tuple[Colour, Colour]
"""Upper and lower pixel."""


def half_blocks(image: Image, columns: int, rows: int, background: Colour = (0, 0, 0)) -> list[list[Cell]]:
    """The picture, its shape kept, in at most `columns` × `rows` cells (two pixels high each).

    An odd last row of pixels is filled with the background. Nothing comes back for no room.
    """
    from PIL.Image import Resampling

    if columns < 1 or rows < 1:
        return []
    width, height = contained(image.size, (columns, 2 * rows))
    shrinks = width < image.width or height < image.height
    small = flatten(image, background).resize(
        (width, height), Resampling.BOX if shrinks else Resampling.NEAREST
    )
    pixels = small.tobytes()
    lines = [_colours(pixels[at : at + 3 * width]) for at in range(0, len(pixels), 3 * width)]
    if len(lines) % 2:
        lines.append([background] * width)
    return [
        list(zip(upper, lower, strict=True)) for upper, lower in zip(lines[::2], lines[1::2], strict=True)
    ]


def _colours(line: bytes) -> list[Colour]:
    return list(zip(line[0::3], line[1::3], line[2::3], strict=True))

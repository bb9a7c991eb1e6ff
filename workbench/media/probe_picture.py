"""The test picture of a probe: what a person sees of it tells how the device reads and turns a splash.

Four letters stand at the four edges, each upright when its own edge is at the top; three numbered bars are
pure red, green and blue; a comb of one-pixel stripes shows whether the device scales; a one-pixel frame shows
whether it cuts. All of it is black, white or a pure primary, so every kind of splash holds it exactly.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media.colours import Colour

if TYPE_CHECKING:
    from PIL.Image import Image

LETTERS = "FGJR"
"""Clockwise from the top edge of the picture as it is stored. None is another one turned or mirrored."""
BARS: tuple[Colour, ...] = ((255, 0, 0), (0, 255, 0), (0, 0, 255))
"""Bars 1, 2, 3."""
SMALLEST = 48
"""Pixels of the shorter side below which the letters could not be told apart."""

_GLYPHS = {
    "F": ("#####", "#....", "#....", "####.", "#....", "#....", "#...."),
    "G": (".###.", "#...#", "#....", "#.###", "#...#", "#...#", ".###."),
    "J": ("..###", "...#.", "...#.", "...#.", "...#.", "#..#.", ".##.."),
    "R": ("####.", "#...#", "#...#", "####.", "#.#..", "#..#.", "#...#"),
    "1": ("..#..", ".##..", "..#..", "..#..", "..#..", "..#..", ".###."),
    "2": (".###.", "#...#", "....#", "..##.", ".#...", "#....", "#####"),
    "3": (".###.", "#...#", "....#", "..##.", "....#", "#...#", ".###."),
}
_WIDE, _HIGH = 5, 7
_WHITE, _BLACK = (255, 255, 255), (0, 0, 0)
_BAR_INKS = (_WHITE, _BLACK, _WHITE)
"""Colours of the digits in the bars."""


def draw_probe(width: int, height: int) -> Image:
    """The test picture, as it is to be stored: no turn is applied to it.

    Raises:
        MediaError: too small for letters that can be read.
    """
    from PIL import Image as images

    if min(width, height) < SMALLEST:
        raise MediaError(
            f"a test picture needs {SMALLEST} pixels on the shorter side; the splash is {width}×{height}"
        )
    picture = images.new("RGB", (width, height), _BLACK)
    _frame(picture)
    scale = max(1, min(width, height) // 48)
    for turn, letter in enumerate(LETTERS):
        glyph = _glyph(letter, scale, _WHITE, _BLACK).rotate(-90 * turn, expand=True)
        picture.paste(glyph, _edge_place(picture.size, glyph.size, turn, 2 * scale))
    _bars(picture, scale)
    _comb(picture, scale)
    return picture


def middle_box(width: int, height: int) -> tuple[int, int, int, int]:
    """Left, top, right, bottom of what the letters leave free: the bars above, the comb below."""
    margin = (_HIGH + 4) * max(1, min(width, height) // 48)
    return margin, margin, width - margin, height - margin


def _edge_place(size: tuple[int, int], glyph: tuple[int, int], turn: int, gap: int) -> tuple[int, int]:
    """Where a letter goes: in the middle of edge `turn`, clockwise from the top."""
    (width, height), (wide, high) = size, glyph
    across, down = (width - wide) // 2, (height - high) // 2
    return ((across, gap), (width - wide - gap, down), (across, height - high - gap), (gap, down))[turn]


def _glyph(letter: str, scale: int, ink: Colour, paper: Colour) -> Image:
    from PIL import Image as images
    from PIL.Image import Resampling

    small = images.new("RGB", (_WIDE, _HIGH), paper)
    for y, row in enumerate(_GLYPHS[letter]):
        for x, dot in enumerate(row):
            if dot == "#":
                small.putpixel((x, y), ink)
    return small.resize((_WIDE * scale, _HIGH * scale), Resampling.NEAREST)


def _frame(picture: Image) -> None:
    width, height = picture.size
    for box in (
        (0, 0, width, 1),
        (0, height - 1, width, height),
        (0, 0, 1, height),
        (width - 1, 0, width, height),
    ):
        picture.paste(_WHITE, box)


def _bars(picture: Image, scale: int) -> None:
    """Three bars side by side in the upper two thirds of the middle, each with its number."""
    left, top, right, bottom = middle_box(*picture.size)
    bottom = top + (bottom - top) * 2 // 3
    for number, (colour, ink) in enumerate(zip(BARS, _BAR_INKS, strict=True)):
        start = left + (right - left) * number // 3
        stop = left + (right - left) * (number + 1) // 3
        picture.paste(colour, (start, top, stop, bottom))
        size = max(1, min(scale, (stop - start) // (_WIDE + 1), (bottom - top) // (_HIGH + 1)))
        digit = _glyph(str(number + 1), size, ink, colour)
        picture.paste(digit, ((start + stop - digit.width) // 2, (top + bottom - digit.height) // 2))


def _comb(picture: Image, scale: int) -> None:
    """Stripes of one pixel: upright ones in the left half, level ones in the right."""
    left, top, right, bottom = middle_box(*picture.size)
    top += (bottom - top) * 2 // 3 + scale
    middle = (left + right) // 2
    for x in range(left, middle, 2):
        picture.paste(_WHITE, (x, top, x + 1, bottom))
    for y in range(top, bottom, 2):
        picture.paste(_WHITE, (middle + scale, y, right, y + 1))

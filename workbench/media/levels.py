"""Sixteen bits a pixel: full channels brought down to 5 or 6 bits and packed, all in Pillow's C code.

A picture that already is made of the device's levels comes through every dither unchanged, so writing back
what was read gives the same bytes.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, get_args

if TYPE_CHECKING:
    from PIL.Image import Image

Dither = Literal["none", "ordered", "diffuse"]
DITHERS: tuple[str, ...] = get_args(Dither)

_BAYER = (
    (0, 32, 8, 40, 2, 34, 10, 42),
    (48, 16, 56, 24, 50, 18, 58, 26),
    (12, 44, 4, 36, 14, 46, 6, 38),
    (60, 28, 52, 20, 62, 30, 54, 22),
    (3, 35, 11, 43, 1, 33, 9, 41),
    (51, 19, 59, 27, 49, 17, 57, 25),
    (15, 47, 7, 39, 13, 45, 5, 37),
    (63, 31, 55, 23, 61, 29, 53, 21),
)
"""Bayer's index matrix of order 8 (B. E. Bayer, ICC 1973)."""


def pack_sixteen(
    image: Image, green_bits: int, *, swapped: bool, top_bit: bool, dither: Dither, stride: int, step: int
) -> bytes:
    """RGB to little-endian 16-bit pixels: red high (or blue, where `swapped`), green of 5 or 6 bits.

    Args:
        top_bit: 5-5-5 only: set the unused bit.
        stride: bytes of a row; what the pixels leave is zero.
        step: 1 for rows from the top, -1 from the bottom.
    """
    from PIL import Image as images
    from PIL import ImageChops

    red, green, blue = image.split()
    high, low = (blue, red) if swapped else (red, blue)
    high, low = _levels(high, 5, dither), _levels(low, 5, dither)
    green = _levels(green, green_bits, dither)
    mark = 0x80 if top_bit and green_bits == 5 else 0
    shift = green_bits - 3
    """How far the green level reaches over the byte's edge: its top three bits, or two, in the high byte."""
    upper = ImageChops.add(
        high.point([(v << shift | mark) & 0xFF for v in range(256)]),
        green.point([v >> 3 for v in range(256)]),
    )
    lower = ImageChops.add(green.point([(v & 7) << 5 for v in range(256)]), low)
    return images.merge("LA", (lower, upper)).tobytes("raw", "LA", stride, step)


def _levels(channel: Image, bits: int, dither: Dither) -> Image:
    """One 8-bit channel as levels 0 to 2**bits-1."""
    if dither == "ordered":
        return _order(channel, bits)
    if dither == "diffuse":
        return _diffuse(channel, bits)
    # The plain cut of U-Boot's own drawing code: r >> 3, g >> 2.
    return channel.point([v >> (8 - bits) for v in range(256)])


def _positions(bits: int) -> list[tuple[int, float]]:
    """For each value: the level at or below it, and how far it is on the way to the next (0 to 1)."""
    top = 2**bits - 1
    seen = [level * 255 // top for level in range(top + 1)]
    positions = []
    level = 0
    for value in range(256):
        while level < top and seen[level + 1] <= value:
            level += 1
        rest = 0.0 if level == top else (value - seen[level]) / (seen[level + 1] - seen[level])
        positions.append((level, rest))
    return positions


def _order(channel: Image, bits: int) -> Image:
    from PIL import ImageChops

    unit = 2 ** (8 - bits)
    scaled = channel.point([int(level * unit + rest * unit) for level, rest in _positions(bits)])
    raised = ImageChops.add(scaled, _tile(channel.size, unit))
    return raised.point([v // unit for v in range(256)])


def _tile(size: tuple[int, int], unit: int) -> Image:
    """Thresholds 0 to unit-1 in Bayer's order over the whole picture."""
    from PIL import Image as images

    width, height = size
    rows = [bytes(value * unit // 64 for value in row) * (width // 8 + 1) for row in _BAYER]
    block = b"".join(row[:width] for row in rows)
    return images.frombytes("L", size, (block * (height // 8 + 1))[: width * height])


def _diffuse(channel: Image, bits: int) -> Image:
    """Floyd-Steinberg on the part between two levels; Pillow's 1-bit conversion carries the error.

    A rest of 0 never turns into a step up: the errors that reach it sum to at most half of one.
    """
    from PIL import Image as images
    from PIL import ImageChops

    positions = _positions(bits)
    below = channel.point([level for level, _ in positions])
    rest = channel.point([round(255 * rest) for _, rest in positions])
    steps = rest.convert("1", dither=images.Dither.FLOYDSTEINBERG).convert("L")
    return ImageChops.add(below, steps.point([v // 255 for v in range(256)]))

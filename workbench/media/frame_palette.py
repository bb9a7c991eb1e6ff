"""Frames in few colours, for small cards: a palette of each frame's own, packed as small as deflate can.

A pixel takes the colour of the one above where hardly anybody could tell: then whole pieces of rows repeat,
which is what deflate lives on. Dithering is for those who ask; it costs what this saves.
"""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING, cast

from workbench.media.frame_pixels import Pixels
from workbench.media.frame_png import wrap_png
from workbench.media.levels import Dither

if TYPE_CHECKING:
    from PIL.Image import Image

_ALIKE = 192
"""Squared distance in red, green and blue up to which the colour above will do: 8 steps of 255 a channel."""
_MANY = 128
"""From so many colours on an octree chooses as well as median cut, in a fiftieth of the time [measured]."""


def encode_indexed(pixels: Pixels, colours: int, dither: Dither) -> bytes:
    """A PNG of at most `colours` colours (2 to 256), in as few bits a pixel as they need."""
    image = pixels.image
    indexed = _reduce(image, colours, dither)
    if dither == "none" and image.getcolors(colours) is None:
        indexed = _repeat_from_above(indexed, image)
    palette = bytes(indexed.getpalette("RGB") or b"")
    used = max(indexed.tobytes()) + 1
    bits = next(each for each in (1, 2, 4, 8) if 2**each >= used)
    width, height = indexed.size
    header = struct.pack(">2I5B", width, height, bits, 3, 0, 0, 0)
    stride = (width * bits + 7) // 8
    rows = indexed.tobytes("raw", "P" if bits == 8 else f"P;{bits}")
    # Unfiltered: a difference of two indices means nothing to deflate [measured].
    lines = (part for at in range(0, stride * height, stride) for part in (b"\0", rows[at : at + stride]))
    return wrap_png(header, zlib.compress(b"".join(lines), 6), palette[: 3 * used].ljust(3 * used, b"\0"))


def _reduce(image: Image, colours: int, dither: Dither) -> Image:
    from PIL import Image as images

    method = images.Quantize.FASTOCTREE if colours >= _MANY else images.Quantize.MEDIANCUT
    if few := image.getcolors(colours):
        exact = images.new("P", (1, 1))
        colours_there = sorted(cast("tuple[int, int, int]", colour) for _, colour in few)
        exact.putpalette([part for colour in colours_there for part in colour])
        return image.quantize(palette=exact, dither=images.Dither.NONE)
    reduced = image.quantize(colours, method, dither=images.Dither.NONE)
    if dither == "none":
        return reduced
    return image.quantize(palette=reduced, dither=images.Dither.FLOYDSTEINBERG)


def _repeat_from_above(indexed: Image, image: Image) -> Image:
    """The same palette, with the index above wherever its colour is alike; without numpy, as it was."""
    try:
        import numpy
    except ImportError:
        return indexed
    from PIL import Image as images

    palette = numpy.array(indexed.getpalette("RGB"), numpy.int32).reshape(-1, 3)
    true = numpy.asarray(image).astype(numpy.int32)
    chosen = numpy.array(indexed)
    for row in range(1, chosen.shape[0]):
        apart = true[row] - palette[chosen[row - 1]]
        numpy.multiply(apart, apart, out=apart)
        distance = apart[:, 0] + apart[:, 1] + apart[:, 2]
        numpy.copyto(chosen[row], chosen[row - 1], where=distance <= _ALIKE)
    repeated = images.frombytes("P", indexed.size, chosen.tobytes())
    repeated.putpalette(palette.astype(numpy.uint8).tobytes())
    return repeated

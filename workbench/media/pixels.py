"""Rows of stored pixels to a picture and back, for BMP and raw frame buffers alike, by Pillow's C code."""

from __future__ import annotations

from typing import TYPE_CHECKING, cast

from workbench.errors import MediaError
from workbench.media.bitmap import stride_of
from workbench.media.kind import SplashKind
from workbench.media.levels import Dither, pack_sixteen
from workbench.values import replace

if TYPE_CHECKING:
    from PIL.Image import Image

_SIXTEEN_RAW_MODES = {
    (0xF800, 0x07E0, 0x001F): "BGR;16",
    (0x001F, 0x07E0, 0xF800): "RGB;16",
    (0x7C00, 0x03E0, 0x001F): "BGR;15",
    (0x001F, 0x03E0, 0x7C00): "RGB;15",
}
"""Pillow's names for the layouts of 16 bits that it unpacks."""


def unpack_pixels(stored: bytes, kind: SplashKind, palette: bytes = b"") -> Image:
    """The picture (RGB, or RGBA where the layout has alpha in use) in rows of `kind`'s depth and order.

    Args:
        stored: the rows alone, padded as the container pads them.
        palette: B, G, R, 0 for each entry; for 1, 4 and 8 bits.
    """
    from PIL import Image as images

    size, stride, step = (kind.width, kind.height), row_bytes(kind), _step(kind)
    if kind.bits <= 8:
        mode = "P" if kind.bits == 8 else f"P;{kind.bits}"
        indexed = images.frombytes("P", size, stored, "raw", mode, stride, step)
        indexed.putpalette(palette[:1024].ljust(1024, b"\0"), "BGRX")
        return indexed.convert("RGB")
    if kind.bits == 16:
        return images.frombytes("RGB", size, stored, "raw", _raw_mode(kind), stride, step)
    if kind.bits == 24:
        return images.frombytes("RGB", size, stored, "raw", "BGR", stride, step)
    return _reorder(images.frombytes("RGBA", size, stored, "raw", "RGBA", stride, step), kind)


def pack_pixels(
    image: Image, kind: SplashKind, dither: Dither = "ordered", *, filler: int = 0
) -> tuple[bytes, bytes]:
    """The stored rows of an RGB or RGBA picture, and its palette (empty above 8 bits).

    Args:
        filler: what unused bits hold (fourth byte of 32 bits, top bit of 5-5-5): 0, or 255 for all set.
    """
    from PIL import Image as images

    stride, step = row_bytes(kind), _step(kind)
    if kind.bits <= 8:
        return _pack_indexed(image.convert("RGB"), kind, dither)
    if kind.bits == 16:
        _raw_mode(kind)
        red, green, _, alpha = kind.channels
        packed = pack_sixteen(
            image.convert("RGB"),
            green.bit_count(),
            swapped=red < green,
            top_bit=bool(alpha or filler),
            dither=dither,
            stride=stride,
            step=step,
        )
        return packed, b""
    if kind.bits == 24:
        return image.convert("RGB").tobytes("raw", "BGR", stride, step), b""
    bands = dict(zip(_byte_order(kind), image.convert("RGBA").split(), strict=True))
    if not kind.channels[3]:
        bands[_byte_order(kind)[3]] = images.new("L", image.size, filler)
    merged = images.merge("RGBA", [bands[position] for position in range(4)])
    return merged.tobytes("raw", "RGBA", stride, step), b""


def follow_unused(stored: bytes, kind: SplashKind) -> tuple[SplashKind, int]:
    """How rows that are there treat bits that show nothing: the layout to write in, and the filler.

    An alpha that is zero everywhere is no alpha, and stays zero. Unused bits that are ever set are set.
    """
    if kind.bits == 32 and stored:
        fourth = stored[_byte_order(kind)[3] :: 4]
        if not fourth.strip(b"\0"):
            return replace(kind, channels=(*kind.channels[:3], 0)), 0
        return kind, 255
    if kind.bits == 16 and kind.channels[1] == 0x03E0:
        row = stored[1 : 2 * kind.width : 2]
        return kind, 255 if any(byte & 0x80 for byte in row) else 0
    return kind, 0


def row_bytes(kind: SplashKind) -> int:
    """Bytes from one row to the next: raw frame buffers pad nothing."""
    if kind.container == "raw":
        return kind.width * kind.bits // 8
    return stride_of(kind.width, kind.bits)


def _step(kind: SplashKind) -> int:
    return 1 if kind.rows == "top-down" else -1


def _raw_mode(kind: SplashKind) -> str:
    red, green, blue, alpha = kind.channels
    mode = _SIXTEEN_RAW_MODES.get((red, green, blue))
    if mode is None or alpha & ~0x8000:
        raise MediaError(
            f"16 bits with the masks {red:04X} {green:04X} {blue:04X} {alpha:04X} are not known here; "
            "5-6-5 and 5-5-5 are"
        )
    return mode


def _byte_order(kind: SplashKind) -> tuple[int, int, int, int]:
    """Where red, green, blue and the fourth byte lie in a 32-bit pixel."""
    places = {0xFF << 8 * place: place for place in range(4)}
    found = [places.get(mask, -1) for mask in kind.channels[:3]]
    rest = {0, 1, 2, 3} - set(found)
    if len(rest) != 1 or (kind.channels[3] and places.get(kind.channels[3]) not in rest):
        masks = " ".join(f"{mask:08X}" for mask in kind.channels)
        raise MediaError(f"32 bits with the masks {masks} are not known here; whole bytes are")
    return found[0], found[1], found[2], rest.pop()


def _reorder(stored: Image, kind: SplashKind) -> Image:
    from PIL import Image as images

    bands = stored.split()
    red, green, blue, alpha = (bands[place] for place in _byte_order(kind))
    # An alpha that is zero everywhere was never meant: every reader shows such a file solid.
    if kind.channels[3] and alpha.getextrema() != (0, 0):
        return images.merge("RGBA", (red, green, blue, alpha))
    return images.merge("RGB", (red, green, blue))


def _pack_indexed(image: Image, kind: SplashKind, dither: Dither) -> tuple[bytes, bytes]:
    indexed = reduce_colours(image, kind.colours or 2**kind.bits, dither)
    mode = "P" if kind.bits == 8 else f"P;{kind.bits}"
    palette = indexed.palette.tobytes() if indexed.palette else b""
    entries = b"".join(
        bytes((blue, green, red, 0))
        for red, green, blue in zip(palette[0::3], palette[1::3], palette[2::3], strict=True)
    )
    room = 4 * (kind.colours or 2**kind.bits)
    return indexed.tobytes("raw", mode, row_bytes(kind), _step(kind)), entries[:room].ljust(room, b"\0")


def reduce_colours(image: Image, colours: int, dither: Dither) -> Image:
    """An RGB picture in at most `colours` colours (mode P); exact where it has no more than that."""
    from PIL import Image as images

    few = cast("list[tuple[int, tuple[int, int, int]]] | None", image.getcolors(colours))
    reduced = image.quantize(colours, images.Quantize.MEDIANCUT, dither=images.Dither.NONE)
    if few is not None and reduced.convert("RGB").tobytes() != image.tobytes():
        return _index_exactly(image, [colour for _, colour in few])
    if few is not None or dither == "none":
        return reduced
    return image.quantize(palette=reduced, dither=images.Dither.FLOYDSTEINBERG)


def _index_exactly(image: Image, colours: list[tuple[int, int, int]]) -> Image:
    """Slow and sure, for the pictures whose few colours Pillow's median cut does not keep apart."""
    from PIL import Image as images

    numbers = {bytes(colour): number for number, colour in enumerate(sorted(colours))}
    pixels = image.tobytes()
    indices = bytes([numbers[pixels[at : at + 3]] for at in range(0, len(pixels), 3)])
    indexed = images.frombytes("P", image.size, indices)
    indexed.putpalette(b"".join(numbers))
    return indexed

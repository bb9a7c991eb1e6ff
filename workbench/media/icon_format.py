"""The format of a small picture of an entry, and another picture written in exactly that format.

PNG: colour type, bit depth and whether it can be seen through are kept (PNG specification, W3C, table 11.1);
BMP and JPEG are followed as splashes are; GIF is written with one frame.
"""

from __future__ import annotations

import io
import struct
from typing import TYPE_CHECKING, Any, Literal

from workbench.errors import MediaError
from workbench.media.codec import encode_picture
from workbench.media.colours import Colour
from workbench.media.fitting import flatten
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import read_kind
from workbench.media.limits import check_pixels
from workbench.media.packing import is_gzip, pack_gzip, unpack_gzip
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from PIL.Image import Image

Container = Literal["png", "bmp", "jpeg", "gif"]
Sort = Literal["grey", "colour", "palette"]

SUFFIXES: dict[str, Container] = {
    ".png": "png",
    ".bmp": "bmp",
    ".jpg": "jpeg",
    ".jpeg": "jpeg",
    ".gif": "gif",
}
_PNG_TYPES: dict[int, tuple[Sort, bool]] = {
    0: ("grey", False),
    2: ("colour", False),
    3: ("palette", False),
    4: ("grey", True),
    6: ("colour", True),
}
_TITLES = {"png": "PNG", "bmp": "BMP", "jpeg": "JPEG", "gif": "GIF"}


@dataclass(frozen=True, slots=True)
class IconFormat:
    """How a picture is stored, its size left out: what two pictures of one sort have in common."""

    container: Container
    sort: Sort
    depth: int
    """Bits of one sample; of a palette, of an index."""
    has_alpha: bool
    """Whether it can be seen through."""
    gzip: bool = False
    rows: str = ""
    """BMP: `bottom-up` or `top-down`."""
    masks: str | None = None
    """BMP of 16 or 32 bits: the layout's name."""

    def describe(self, size: tuple[int, int]) -> str:
        """In words: `64×64 PNG, 8 bits a sample, can be seen through`."""
        width, height = size
        parts = [f"{width}×{height} {_TITLES[self.container]}"]
        if self.sort == "palette":
            parts.append(f"{2**self.depth} colours")
        else:
            grey = "grey, " if self.sort == "grey" else ""
            parts.append(f"{grey}{self.depth} bit{'s' if self.depth != 1 else ''} a sample")
        if self.masks is not None:
            parts.append(f"layout {self.masks}")
        if self.has_alpha:
            parts.append("can be seen through")
        if self.gzip:
            parts.append("gzip")
        return ", ".join(parts)


def read_format(raw: bytes) -> tuple[IconFormat, tuple[int, int]]:
    """Format and size of a picture file's bytes; nothing is decoded.

    Raises:
        MediaError: of no kind known here, torn, or of a size that is none.
    """
    is_packed = is_gzip(raw)
    content = unpack_gzip(raw) if is_packed else raw
    if content.startswith(b"\x89PNG\r\n\x1a\n"):
        found, size = _read_png(content)
    elif content.startswith(b"GIF8"):
        found, size = _read_gif(content)
    else:
        found, size = _read_other(content)
    return (replace(found, gzip=True) if is_packed else found), size


def plain_format(suffix: str) -> IconFormat | None:
    """The format to write where only a name's suffix says what is wanted."""
    container = SUFFIXES.get(suffix.lower())
    if container is None:
        return None
    if container == "gif":
        return IconFormat("gif", "palette", 8, True)
    rows = "bottom-up" if container == "bmp" else ""
    return IconFormat(container, "colour", 8, container == "png", rows=rows)


def encode_icon(
    image: Image, wanted: IconFormat, like: bytes | None = None, background: Colour = (0, 0, 0)
) -> bytes:
    """The bytes of that picture in that format.

    Args:
        image: RGB or RGBA, of its final size.
        like: a file of that format, to be followed in what the format leaves open.
        background: behind what is see-through, where the format cannot be seen through.

    Raises:
        MediaError: a format that is read here and not written.
    """
    solid = image if wanted.has_alpha else flatten(image, background)
    if wanted.container == "png":
        content = _encode_png(solid, wanted)
    elif wanted.container == "gif":
        content = _save(solid.convert("RGBA" if solid.mode == "RGBA" else "RGB"), "GIF")
    else:
        content = _encode_other(solid, wanted, like)
    return (
        pack_gzip(content, like if like is not None and is_gzip(like) else None) if wanted.gzip else content
    )


def _read_png(raw: bytes) -> tuple[IconFormat, tuple[int, int]]:
    if len(raw) < 33 or raw[12:16] != b"IHDR" or raw[25] not in _PNG_TYPES:
        raise MediaError("the PNG is torn: its header is missing")
    width, height, depth = struct.unpack_from(">2IB", raw, 16)
    check_pixels("the PNG", width, height)
    sort, has_alpha = _PNG_TYPES[raw[25]]
    return IconFormat("png", sort, depth, has_alpha or _has_png_chunk(raw, b"tRNS")), (width, height)


def _has_png_chunk(raw: bytes, wanted: bytes) -> bool:
    """Whether a chunk stands before the pixels."""
    at = 8
    while at + 12 <= len(raw):
        name = raw[at + 4 : at + 8]
        if name in (wanted, b"IDAT"):
            return name == wanted
        at += 12 + int.from_bytes(raw[at : at + 4], "big")
    return False


def _read_gif(raw: bytes) -> tuple[IconFormat, tuple[int, int]]:
    if len(raw) < 13:
        raise MediaError("the GIF is torn: its header is missing")
    width, height = struct.unpack_from("<2H", raw, 6)
    check_pixels("the GIF", width, height)
    # A graphic control extension (GIF89a, section 23) with its transparency flag set.
    at = raw.find(b"\x21\xf9\x04")
    is_clear = at >= 0 and bool(raw[at + 3] & 1)
    return IconFormat("gif", "palette", 8, is_clear), (width, height)


def _read_other(raw: bytes) -> tuple[IconFormat, tuple[int, int]]:
    kind = read_kind(raw)
    if kind.container not in ("bmp", "jpeg"):
        raise MediaError("its content is of no kind known here")
    size = kind.width, kind.height
    if kind.container == "jpeg":
        return IconFormat("jpeg", "grey" if kind.bits == 8 else "colour", 8, False), size
    has_alpha = bool(kind.channels[3])
    if kind.bits <= 8:
        return IconFormat("bmp", "palette", kind.bits, False, rows=kind.rows), size
    depth = kind.bits // (4 if kind.bits == 32 else 3)
    return IconFormat("bmp", "colour", depth, has_alpha, rows=kind.rows, masks=_layout(kind)), size


def _layout(kind: SplashKind) -> str | None:
    if kind.bits == 16:
        return kind.masks or "555"
    return (kind.masks or "888") if kind.bits == 32 else None


def _encode_png(image: Image, wanted: IconFormat) -> bytes:
    if wanted.sort == "palette":
        return _save(_fill_palette(_index(image, 2**wanted.depth), 2**wanted.depth), "PNG")
    if wanted.sort == "grey":
        if wanted.has_alpha:
            return _save(image.convert("LA"), "PNG")
        return _save(image.convert("L" if wanted.depth > 1 else "1"), "PNG")
    return _save(image.convert("RGBA" if wanted.has_alpha else "RGB"), "PNG")


def _index(image: Image, colours: int) -> Image:
    """The picture in a palette; what is see-through stays so."""
    from PIL import Image as images

    from workbench.media.pixels import reduce_colours

    if image.mode != "RGBA" or image.getchannel("A").getextrema() == (255, 255):
        return reduce_colours(image.convert("RGB"), colours, "none")
    return image.quantize(colours, images.Quantize.FASTOCTREE, dither=images.Dither.NONE)


def _fill_palette(image: Image, colours: int) -> Image:
    """The same with a palette of exactly so many colours: from their number the depth follows."""
    assert image.palette is not None
    mode = image.palette.mode
    entries = bytes(image.palette.palette)[: colours * len(mode)]
    image.putpalette(entries.ljust(colours * len(mode), b"\0"), mode)
    return image


def _encode_other(image: Image, wanted: IconFormat, like: bytes | None) -> bytes:
    old = unpack_gzip(like) if like is not None and is_gzip(like) else like
    there = read_kind(old) if old is not None else None
    if wanted.container == "jpeg":
        kind = SplashKind("jpeg", *image.size, 8 if wanted.sort == "grey" else 24)
    else:
        base = there if there is not None else read_kind(_plain_bitmap(image))
        kind = replace(base, width=image.width, height=image.height, gzip=False)
    is_same_size = there is not None and (there.width, there.height) == image.size
    return encode_picture(image, kind, old if is_same_size or wanted.container == "jpeg" else None)


def _plain_bitmap(image: Image) -> bytes:
    return _save(image.convert("RGB"), "BMP")


def _save(image: Image, container: str, **wishes: Any) -> bytes:
    buffer = io.BytesIO()
    image.save(buffer, container, **wishes)
    return buffer.getvalue()

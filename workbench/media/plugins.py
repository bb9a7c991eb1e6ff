"""Loads pictures by Pillow with only the reader that is needed, and turns its failures into one sentence.

Pillow's own opening loads every reader it has, which costs more than decoding a splash.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import IO, TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media.limits import check_pixels
from workbench.media.packing import is_gzip
from workbench.media.png import decode_plain_png

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

COMMON = {b"\x89PNG\r\n\x1a\n": "png", b"\xff\xd8\xff": "jpeg", b"BM": "bmp", b"GIF8": "gif"}
"""Beginnings of the formats whose readers are old, small and fuzzed most: these are decoded in process."""

_UNSAFE = {"EPS", "MPEG", "WMF"}
"""EPS starts another program, the others are not pictures that can be decoded everywhere."""


def common_format(beginning: bytes) -> str | None:
    """`png`, `jpeg`, `bmp` or `gif`, by the first bytes; None for any other."""
    return next((name for magic, name in COMMON.items() if beginning.startswith(magic)), None)


def is_common(raw: bytes) -> bool:
    """Whether these bytes (or what they unpack to: a splash that was kept) are of a common format."""
    return is_gzip(raw) or common_format(raw[:16]) is not None


def load_with_plugin(raw: bytes, name: str) -> Image:
    """Decode bytes of one common format to RGB or RGBA.

    Raises:
        MediaError: damaged, torn, or too many pixels.
    """
    if name == "png" and (plain := decode_plain_png(raw)):
        return plain
    with reading_pictures():
        picture = open_common(io.BytesIO(raw), name)
        check_size(picture)
        return plain_modes(picture)


def open_common(file: IO[bytes], name: str) -> ImageFile:
    """Open, not yet decode, one of the common formats."""
    if name == "png":
        from PIL.PngImagePlugin import PngImageFile

        return PngImageFile(file)
    if name == "jpeg":
        from PIL.JpegImagePlugin import JpegImageFile

        return JpegImageFile(file)
    if name == "gif":
        from PIL.GifImagePlugin import GifImageFile

        return GifImageFile(file)
    from PIL.BmpImagePlugin import BmpImageFile

    return BmpImageFile(file)


def open_any(file: IO[bytes]) -> ImageFile:
    """Open, not yet decode, whatever Pillow reads without starting another program."""
    from PIL import Image as images

    images.init()
    return images.open(file, formats=[name for name in images.ID if name not in _UNSAFE])


def check_size(picture: ImageFile) -> None:
    """Refuse what would fill the memory, before it is decoded."""
    check_pixels("it", *picture.size)


def plain_modes(picture: Image) -> Image:
    """The same picture as RGB, or RGBA where it can be seen through."""
    if picture.mode.startswith("I") or picture.mode == "F":
        # Sixteen-bit greys: the upper eight bits are what a panel shows; plain conversion would clip.
        top = 255 if picture.mode == "F" else 65535
        return picture.convert("F").point(lambda value: value * (255 / top) + 0).convert("L").convert("RGB")
    see_through = picture.mode in ("RGBA", "LA", "PA", "RGBa", "La") or "transparency" in picture.info
    return picture.convert("RGBA" if see_through else "RGB")


@contextmanager
def reading_pictures() -> Iterator[None]:
    """Whatever a reader trips over inside becomes a `MediaError`; its warnings are not for the user."""
    from PIL.Image import DecompressionBombError

    damage = (
        OSError,
        SyntaxError,
        ValueError,
        EOFError,
        LookupError,
        TypeError,
        ArithmeticError,
        AttributeError,
    )
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    except DecompressionBombError as error:
        raise MediaError("it is a decompression bomb: far more pixels than it has any use for") from error
    except MemoryError as error:
        raise MediaError("it needs more memory than there is") from error
    except damage as error:
        raise MediaError(f"it cannot be read as a picture: {_because(error)}") from error
    except Exception as error:
        # struct.error and zlib.error are no kin of the others, and readers raise both.
        if type(error).__module__ not in ("struct", "zlib"):
            raise
        raise MediaError(f"it cannot be read as a picture: {_because(error)}") from error


def _because(error: Exception) -> str:
    text = str(error).split("\n")[0]
    return "its content is of no known kind" if not text or "cannot identify" in text else text

"""A picture of the user's, from any file that Pillow reads: upright, decoded, within limits.

Every way in which a file can be no picture ends in one `MediaError` that names it.
"""

from __future__ import annotations

import os
import stat
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.errors import MediaError
from workbench.media import codec, plugins
from workbench.media.bitmap import kind_of
from workbench.media.limits import MAX_FILE
from workbench.media.packing import is_gzip, unpack_gzip
from workbench.media.png import decode_plain_png

if TYPE_CHECKING:
    from PIL.Image import Image
    from PIL.ImageFile import ImageFile

_ORIENTATION = 0x0112
"""Exif tag 274: how the camera was held (CIPA DC-008, table 4)."""


def read_picture(path: Path, wanted: tuple[int, int] | None = None) -> Image:
    """Decode a picture file to RGB or RGBA, turned as its camera says; the first one where it holds several.

    Args:
        wanted: the size it is needed for; a larger JPEG is then decoded smaller, never below that.

    Raises:
        MediaError: no such file, no picture, torn, a bomb, or not to be read.
    """
    return decode_bytes(read_picture_file(path), path, wanted)


def read_picture_file(path: Path) -> bytes:
    """A picture file's bytes.

    Raises:
        MediaError: no such file, no plain file, or larger than a picture needs to be.
    """
    try:
        facts = os.stat(path)
        if not stat.S_ISREG(facts.st_mode):
            raise MediaError(f"{path} is no file; give a picture file", path=str(path))
        if facts.st_size > MAX_FILE:
            raise MediaError(
                f"{path} holds {facts.st_size:,} bytes; {MAX_FILE:,} is the most for a picture",
                path=str(path),
            )
        return path.read_bytes()
    except OSError as error:
        raise MediaError(f"{path} could not be read: {error.strerror or error}", path=str(path)) from error


def decode_bytes(raw: bytes, path: Path, wanted: tuple[int, int] | None = None) -> Image:
    """As `read_picture`, for bytes that are read already; `path` is for the words of an error."""
    try:
        if not raw:
            raise MediaError("it is empty")
        with plugins.reading_pictures():
            return _decode(raw, wanted)
    except MediaError as error:
        raise MediaError(
            f"{path} is not used: {error.message}. Nothing was changed; choose another picture",
            path=str(path),
        ) from error


def _decode(raw: bytes, wanted: tuple[int, int] | None) -> Image:
    if is_gzip(raw):
        raw = unpack_gzip(raw)
    name = plugins.common_format(raw[:16])
    if name == "bmp" and (bitmap := _decode_bitmap(raw)):
        return bitmap
    if name == "png" and (plain := decode_plain_png(raw)):
        return plain
    picture = plugins.open_common(BytesIO(raw), name) if name else plugins.open_any(BytesIO(raw))
    plugins.check_size(picture)
    turn = _find_turn(picture)
    if name == "jpeg" and wanted:
        # A camera's turn swaps the sides, so both must still fit after the decoder's halving.
        longest = max(wanted)
        picture.draft("RGB", (longest, longest))
    decoded = plugins.plain_modes(picture)
    return decoded if turn is None else decoded.transpose(turn)


def _decode_bitmap(raw: bytes) -> Image | None:
    """A BMP by our own reader; None for the old and rare sorts that Pillow's knows."""
    try:
        return codec.decode_picture(raw, kind_of(raw))
    except MediaError:
        return None


def _find_turn(picture: ImageFile) -> Any:
    """Pillow's transposition that sets the picture upright, or None. Only a file that says so is asked."""
    from PIL.Image import Transpose

    hints = ("exif", "xmp", "XML:com.adobe.xmp", "Raw profile type exif")
    # Pillow sets a TIFF upright itself.
    if picture.format == "TIFF" or not any(hint in picture.info for hint in hints):
        return None
    turns = {
        2: Transpose.FLIP_LEFT_RIGHT,
        3: Transpose.ROTATE_180,
        4: Transpose.FLIP_TOP_BOTTOM,
        5: Transpose.TRANSPOSE,
        6: Transpose.ROTATE_270,
        7: Transpose.TRANSVERSE,
        8: Transpose.ROTATE_90,
    }
    return turns.get(picture.getexif().get(_ORIENTATION, 1))

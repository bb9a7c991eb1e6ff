"""How much a picture may claim before it is refused unopened: the guard against bombs."""

from __future__ import annotations

from workbench.errors import MediaError

MAX_PIXELS = 80_000_000
"""More than a camera picture that a splash is made of; about 320 MB in memory."""

MAX_UNPACKED = 64 * 1024 * 1024
"""Bytes after gunzip. No panel of a handheld needs more (4096 × 4096 in 32 bits)."""

MAX_FILE = 256 * 1024 * 1024
"""Bytes of a picture file of the user's."""


def check_pixels(what: str, width: int, height: int) -> None:
    """Refuse a claimed size that is no size, or that would fill the memory.

    Raises:
        MediaError: in one sentence that begins with `what`.
    """
    if width < 1 or height < 1:
        raise MediaError(f"{what} claims a size of {width}×{height} pixels, which is no picture")
    if width * height > MAX_PIXELS:
        raise MediaError(f"{what} claims {width:,}×{height:,} pixels; {MAX_PIXELS:,} is the most")

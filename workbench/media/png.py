"""Plain PNGs, decoded by Pillow's C code without its PNG module, whose start costs more than the decoding.

Plain is: 8 bits a sample, one pass, nothing see-through by a side chunk, no word of a turn, no damage.
Whatever else there is, `None` hands it to Pillow's own reader, errors included (PNG specification, W3C).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

from workbench.media.limits import check_pixels

if TYPE_CHECKING:
    from PIL.Image import Image

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_MODES = {0: ("L", "L"), 2: ("RGB", "RGB"), 3: ("P", "P"), 4: ("LA", "LA"), 6: ("RGBA", "RGBA")}
"""Pillow's mode and raw mode by colour type."""
_NOT_PLAIN = {b"tRNS", b"eXIf", b"acTL", b"fcTL"}
_TEXTS = {b"tEXt", b"zTXt", b"iTXt"}
_TURN_TEXTS = (b"Raw profile type exif\0", b"XML:com.adobe.xmp\0")
"""Keywords under which a text chunk may say how the camera was held."""


def decode_plain_png(raw: bytes) -> Image | None:
    """The picture as RGB or RGBA, or None where it is no plain PNG or not a whole one.

    Raises:
        MediaError: it claims more pixels than are opened.
    """
    head, chunks = _read_chunks(raw)
    if head is None or b"IDAT" not in chunks or head[4:] != (0, 0, 0):
        return None
    width, height, depth, colour_type = head[:4]
    if depth != 8 or colour_type not in _MODES or (colour_type == 3) != (b"PLTE" in chunks):
        return None
    check_pixels("it", width, height)
    return _unpack((width, height), *_MODES[colour_type], chunks)


def _unpack(size: tuple[int, int], mode: str, raw_mode: str, chunks: dict[bytes, bytes]) -> Image | None:
    from PIL import Image as images

    try:
        image = images.frombytes(mode, size, chunks[b"IDAT"], "zip", raw_mode)
        if mode == "P":
            image.putpalette(chunks[b"PLTE"][:768].ljust(768, b"\0"))
    except (ValueError, OSError):
        return None
    return image.convert("RGBA" if mode in ("LA", "RGBA") else "RGB")


def _read_chunks(raw: bytes) -> tuple[tuple[int, ...] | None, dict[bytes, bytes]]:
    """The header's seven fields, and IDAT and PLTE each in one piece; None where something is not plain."""
    held: dict[bytes, list[bytes]] = {}
    for name, content in _walk(raw):
        if name in _NOT_PLAIN or (name in _TEXTS and content.startswith(_TURN_TEXTS)):
            return None, {}
        if name == b"IEND":
            header = b"".join(held.get(b"IHDR", []))
            joined = {each: b"".join(parts) for each, parts in held.items()}
            return (struct.unpack(">2I5B", header) if len(header) == 13 else None), joined
        if name in (b"IHDR", b"IDAT", b"PLTE"):
            held.setdefault(name, []).append(content)
        elif not name[0] & 0x20:
            # A critical chunk that the specification does not know.
            return None, {}
    return None, {}


def _walk(raw: bytes) -> Iterator[tuple[bytes, bytes]]:
    """Name and content of each chunk, up to the first that is torn or whose checksum is wrong."""
    at = len(_SIGNATURE) if raw.startswith(_SIGNATURE) else len(raw)
    while at + 12 <= len(raw):
        length = int.from_bytes(raw[at : at + 4], "big")
        body = raw[at + 4 : at + 8 + length]
        if zlib.crc32(body) != int.from_bytes(raw[at + 8 + length : at + 12 + length], "big"):
            return
        yield body[:4], body[4:]
        at += 12 + length

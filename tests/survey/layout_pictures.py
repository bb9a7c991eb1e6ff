"""Pictures and sound for invented cards, made from bytes alone: no code of the workbench has a say."""

from __future__ import annotations

import gzip
import io
import struct
import zlib

Pixel = tuple[int, int, int]


def draw(width: int, height: int, seed: int) -> list[bytes]:
    """Rows of RGB bytes: a few broad bands whose colours depend on the seed."""
    bands = [
        bytes(((seed * 37 + band * 61) % 256, (seed * 11 + band * 97) % 256, band * 50 % 256))
        for band in range(5)
    ]
    return [bands[y * 5 // height] * width for y in range(height)]


def png(rows: list[bytes]) -> bytes:
    """A PNG of 8-bit RGB (W3C PNG, sections 5 and 11)."""
    width, height = len(rows[0]) // 3, len(rows)
    head = struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0)
    packed = zlib.compress(b"".join(b"\0" + row for row in rows), 1)
    return b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", head) + _chunk(b"IDAT", packed) + _chunk(b"IEND", b"")


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def bmp(rows: list[bytes], bits: int, *, top_down: bool = False) -> bytes:
    """A BMP (Microsoft BITMAPFILEHEADER and BITMAPINFOHEADER): 16 bits as 5-6-5 by masks, 24 or 32."""
    width, height = len(rows[0]) // 3, len(rows)
    stride = (width * bits + 31) // 32 * 4
    body = b"".join(pixels(row, bits).ljust(stride, b"\0") for row in (rows if top_down else rows[::-1]))
    masks = struct.pack("<3I", 0xF800, 0x07E0, 0x001F) if bits == 16 else b""
    offset = 54 + len(masks)
    head = struct.pack(
        "<IiiHHIIiiII",
        40,
        width,
        -height if top_down else height,
        1,
        bits,
        3 if masks else 0,
        len(body),
        2835,
        2835,
        0,
        0,
    )
    return struct.pack("<2sIHHI", b"BM", offset + len(body), 0, 0, offset) + head + masks + body


def pixels(row: bytes, bits: int) -> bytes:
    """One row as a framebuffer holds it, little-endian: 5-6-5, BGR or BGRA. Bands are of one colour."""
    red, green, blue = row[:3]
    if bits == 16:
        one = struct.pack("<H", (red >> 3) << 11 | (green >> 2) << 5 | blue >> 3)
    else:
        one = bytes((blue, green, red)) + (b"\xff" if bits == 32 else b"")
    return one * (len(row) // 3)


def raw(rows: list[bytes], bits: int) -> bytes:
    """A framebuffer without any header."""
    return b"".join(pixels(row, bits) for row in rows)


def jpeg(rows: list[bytes]) -> bytes:
    """A JPEG; made by Pillow, since the standard library has no encoder."""
    from PIL import Image

    image = Image.frombytes("RGB", (len(rows[0]) // 3, len(rows)), b"".join(rows))
    held = io.BytesIO()
    image.save(held, "JPEG", quality=90)
    return held.getvalue()


def packed(content: bytes) -> bytes:
    """Gzip (RFC 1952) without a time."""
    return gzip.compress(content, 6, mtime=0)


def wav(rate: int, seconds: float) -> bytes:
    """A silent mono WAV of 16 bits."""
    body = bytes(2 * int(rate * seconds))
    head = struct.pack(
        "<4sI8sIHHIIHH4sI",
        b"RIFF",
        36 + len(body),
        b"WAVEfmt ",
        16,
        1,
        1,
        rate,
        rate * 2,
        2,
        16,
        b"data",
        len(body),
    )
    return head + body

"""Pictures by suffix, and their size from the first bytes: nothing is decoded."""

from __future__ import annotations

import struct

from workbench.jobs.survey.places import suffix_of

PICTURES = frozenset(("png", "jpg", "jpeg", "bmp", "gif", "webp", "tga", "qoi", "ico", "tif", "tiff"))
HEAD = 4096
"""Bytes that are read of a picture."""

_FRAME_MARKERS = {*range(0xC0, 0xD0)} - {0xC4, 0xC8, 0xCC}
"""JPEG's start-of-frame markers (ITU-T T.81, table B.1)."""


def is_picture(name: str) -> bool:
    """Whether the suffix is that of a picture."""
    return suffix_of(name) in PICTURES


def size_of(raw: bytes) -> tuple[int, int] | None:
    """Width and height as the header says them; None where it does not."""
    if raw.startswith(b"\x89PNG\r\n\x1a\n") and len(raw) >= 24:
        width, height = struct.unpack_from(">2I", raw, 16)
        return width, height
    if raw.startswith(b"BM") and len(raw) >= 26:
        width, height = struct.unpack_from("<2i", raw, 18)
        return width, abs(height)
    if raw.startswith((b"GIF87a", b"GIF89a")) and len(raw) >= 10:
        width, height = struct.unpack_from("<2H", raw, 6)
        return width, height
    return _jpeg_size(raw) if raw.startswith(b"\xff\xd8\xff") else None


def _jpeg_size(raw: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 < len(raw) and raw[at] == 0xFF:
        marker = raw[at + 1]
        if marker in _FRAME_MARKERS:
            height, width = struct.unpack_from(">2H", raw, at + 5)
            return width, height
        is_bare = marker == 0x01 or 0xD0 <= marker <= 0xD7
        at += 1 if marker == 0xFF else 2 if is_bare else 2 + int.from_bytes(raw[at + 2 : at + 4], "big")
    return None

"""The short way for plain PNGs gives what Pillow's own reader gives, or steps aside."""

from __future__ import annotations

import io
import struct
import subprocess
import sys
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, PngImagePlugin
from splash_samples import photo, ramp

from workbench.errors import MediaError
from workbench.media.png import decode_plain_png


def _png(image: Image.Image, **words: object) -> bytes:
    held = io.BytesIO()
    image.save(held, "PNG", **words)
    return held.getvalue()


def _chunk(name: bytes, content: bytes) -> bytes:
    return struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))


@pytest.mark.parametrize("mode", ["L", "RGB", "P", "LA", "RGBA"])
@pytest.mark.parametrize("size", [(1, 1), (37, 21), (300, 200)])
def test_plain_pictures_are_what_pillow_says(mode, size):
    """Every colour type of 8 bits, pixel for pixel."""
    raw = _png(photo(*size).convert(mode))
    expected = Image.open(io.BytesIO(raw)).convert("RGBA" if "A" in mode else "RGB")
    plain = decode_plain_png(raw)
    assert plain is not None and (plain.mode, plain.tobytes()) == (expected.mode, expected.tobytes())


def _texts() -> PngImagePlugin.PngInfo:
    texts = PngImagePlugin.PngInfo()
    texts.add_text("Raw profile type exif", "x")
    return texts


CLONE = Path(__file__).resolve().parents[2]
ASIDE = {
    "one bit": _png(ramp(9, 9).convert("1")),
    "sixteen bits": _png(Image.new("I;16", (9, 9))),
    "see-through": _png(ramp(9, 9), transparency=(1, 2, 3)),
    "turned": _png(ramp(9, 9), exif=b"Exif\0\0II*\0\x08\0\0\0\0\0"),
    "turned in a text": _png(ramp(9, 9), pnginfo=_texts()),
    "animated": _png(ramp(9, 9), save_all=True, append_images=[photo(9, 9)]),
    "no end": _png(ramp(9, 9))[:-12],
    "wrong checksum": _png(ramp(9, 9)).replace(b"IDAT", b"IDAU"),
    "unknown critical chunk": _png(ramp(9, 9))[:33] + _chunk(b"ABCD", b"") + _png(ramp(9, 9))[33:],
    "no picture": b"hello",
    "empty": b"",
}


@pytest.mark.parametrize("name", ASIDE)
def test_anything_else_is_left_to_pillow(name):
    """Not plain, or not whole: None."""
    assert decode_plain_png(ASIDE[name]) is None


def test_a_plain_bomb_is_refused_before_it_is_unpacked():
    """The header's claim decides."""
    header = struct.pack(">2I5B", 60_000, 60_000, 8, 2, 0, 0, 0)
    raw = b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + _chunk(b"IDAT", b"") + _chunk(b"IEND", b"")
    with pytest.raises(MediaError, match="60,000×60,000"):
        decode_plain_png(raw)


@settings(max_examples=200, deadline=None)
@given(st.data())
def test_damage_never_gives_another_picture(data):
    """One flipped byte: the same pixels, or None (CRC-32 finds it)."""
    raw = bytearray(_png(photo(24, 16)))
    at = data.draw(st.integers(0, len(raw) - 1))
    raw[at] ^= data.draw(st.integers(1, 255))
    plain = decode_plain_png(bytes(raw))
    assert plain is None or plain.tobytes() == photo(24, 16).tobytes()


def test_lying_lengths_inside_are_found():
    """Too few pixels in the stream, checksums right: None, and Pillow's reader says why."""
    header = struct.pack(">2I5B", 50, 50, 8, 2, 0, 0, 0)
    body = zlib.compress(bytes(40))
    raw = b"\x89PNG\r\n\x1a\n" + _chunk(b"IHDR", header) + _chunk(b"IDAT", body) + _chunk(b"IEND", b"")
    assert decode_plain_png(raw) is None


def test_pillows_png_module_is_not_loaded(tmp_path):
    """The whole point: decoding starts without it."""
    (tmp_path / "x.png").write_bytes(_png(ramp(9, 9)))
    code = (
        "import sys, pathlib; from workbench.media.picture import read_picture; "
        "read_picture(pathlib.Path(sys.argv[1])); sys.exit('PIL.PngImagePlugin' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code, str(tmp_path / "x.png")], cwd=CLONE).returncode == 0

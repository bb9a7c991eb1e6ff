"""Pictures of the user's: upright, whole and within limits, or one sentence."""

from __future__ import annotations

import io
import os
import struct
import zlib

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageChops
from splash_samples import photo, ramp

from workbench.errors import MediaError
from workbench.media.packing import pack_gzip
from workbench.media.picture import read_picture


def _bytes(image: Image.Image, name: str, **words: object) -> bytes:
    held = io.BytesIO()
    image.save(held, name, **words)
    return held.getvalue()


def _put(folder, raw: bytes):
    path = folder / "picture"
    path.write_bytes(raw)
    return path


@pytest.mark.parametrize("name", ["PNG", "BMP", "GIF", "TIFF", "WEBP", "PPM", "TGA", "ICO", "PCX"])
def test_formats_are_read_whatever_the_file_is_called(name, tmp_path):
    """The content decides, not the suffix."""
    image = ramp(32, 32)
    words = {"lossless": True} if name == "WEBP" else {}
    read = read_picture(_put(tmp_path, _bytes(image, name, **words)))
    assert read.size == (32, 32)
    if name not in ("GIF", "PCX"):
        assert read.convert("RGB").tobytes() == image.tobytes()


def test_a_kept_splash_is_a_picture_too(tmp_path):
    """A gzipped BMP is unpacked first."""
    assert (
        read_picture(_put(tmp_path, pack_gzip(_bytes(ramp(9, 9), "BMP")))).tobytes() == ramp(9, 9).tobytes()
    )


@pytest.mark.parametrize("turn", range(1, 9))
@pytest.mark.parametrize("name", ["JPEG", "PNG", "TIFF", "WEBP"])
def test_a_cameras_turn_is_undone(turn, name, tmp_path):
    """Exif tag 274 (CIPA DC-008): checked against Pillow's own exif_transpose."""
    from PIL import ImageOps

    exif = Image.Exif()
    exif[274] = turn
    raw = _bytes(photo(40, 20), name, exif=exif.tobytes())
    expected = ImageOps.exif_transpose(Image.open(io.BytesIO(raw))).convert("RGB")
    assert read_picture(_put(tmp_path, raw)).convert("RGB").tobytes() == expected.tobytes()


def test_a_large_jpeg_is_decoded_smaller_but_never_too_small(tmp_path):
    """The decoder's own halving (ITU-T T.81 blocks of 8) saves time; both sides still cover the wish."""
    path = _put(tmp_path, _bytes(photo(1600, 1200), "JPEG"))
    small = read_picture(path, (200, 300))
    assert min(small.size) >= 300 and max(small.size) < 1600
    assert read_picture(path).size == (1600, 1200)


@pytest.mark.parametrize("mode", ["1", "L", "LA", "P", "RGB", "RGBA", "I;16"])
def test_every_mode_becomes_plain(mode, tmp_path):
    """Sixteen-bit greys keep their upper eight bits; what is see-through stays so."""
    grey = Image.linear_gradient("L").resize((8, 256))
    image = Image.frombytes("I;16", grey.size, b"".join(b"\0" + bytes([v]) for v in grey.tobytes()))
    image = image if mode == "I;16" else grey.convert(mode)
    read = read_picture(_put(tmp_path, _bytes(image, "PNG")))
    assert read.mode == ("RGBA" if mode in ("LA", "RGBA") else "RGB")
    if mode != "1":
        difference = ImageChops.difference(read.convert("L"), grey).getextrema()
        assert difference[1] <= (1 if mode == "I;16" else 0)


def test_a_palette_with_a_see_through_colour_keeps_it(tmp_path):
    """PNG's tRNS chunk."""
    image = Image.new("P", (2, 1))
    image.putpalette([255, 0, 0, 0, 255, 0])
    image.putpixel((1, 0), 1)
    read = read_picture(_put(tmp_path, _bytes(image, "PNG", transparency=1)))
    assert read.mode == "RGBA" and read.tobytes() == b"\xff\0\0\xff\0\xff\0\0"


def _png(width: int, height: int, body: bytes = b"") -> bytes:
    def chunk(name: bytes, content: bytes) -> bytes:
        return (
            struct.pack(">I", len(content)) + name + content + struct.pack(">I", zlib.crc32(name + content))
        )

    head = struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", head)
        + chunk(b"IDAT", zlib.compress(body))
        + chunk(b"IEND", b"")
    )


BAD = {
    "empty": (b"", "is empty"),
    "text": (b"not a picture at all\n" * 9, "no known kind"),
    "zeros": (bytes(4096), "no known kind"),
    "pixel bomb": (_png(50_000, 50_000), "50,000×50,000 pixels"),
    "PNG without pixels": (_png(10, 10), "cannot be read"),
    "torn PNG": (_bytes(photo(90, 90), "PNG")[:900], "cannot be read"),
    "torn JPEG": (_bytes(ramp(90, 90), "JPEG")[:900], "truncated"),
    "torn BMP": (_bytes(ramp(90, 90), "BMP")[:900], "cannot be read"),
    "torn GIF": (_bytes(ramp(90, 90), "GIF")[:900], "cannot be read"),
    "torn TIFF": (_bytes(ramp(90, 90), "TIFF")[:900], "cannot be read"),
    "torn WEBP": (_bytes(ramp(90, 90), "WEBP")[:90], "cannot be read"),
    "gzip bomb": (pack_gzip(bytes(70_000_000)), "more than 67,108,864"),
    "lying gzip": (pack_gzip(_bytes(ramp(9, 9), "BMP"))[:-4] + b"\x01\0\0\0", "lies about its size"),
    "program": (b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n%%EndComments\n", "no known kind"),
}


@pytest.mark.parametrize("name", BAD)
def test_what_is_no_picture_is_one_sentence(name, tmp_path):
    """It names the file, says why, and that nothing was changed."""
    raw, words = BAD[name]
    path = _put(tmp_path, raw)
    with pytest.raises(MediaError, match=words) as caught:
        read_picture(path)
    assert str(path) in caught.value.message and "Nothing was changed" in caught.value.message
    assert "\n" not in caught.value.message


def test_a_path_that_is_no_file_is_a_sentence(tmp_path):
    """Missing, a folder, a pipe (which is never opened: that would wait for ever)."""
    os.mkfifo(tmp_path / "pipe")
    for path, words in [
        (tmp_path / "gone", "could not be read"),
        (tmp_path, "no file"),
        (tmp_path / "pipe", "no file"),
    ]:
        with pytest.raises(MediaError, match=words):
            read_picture(path)


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(["PNG", "JPEG", "BMP", "GIF", "TIFF", "WEBP"]), st.data())
def test_flipped_bytes_never_escape_as_another_error(tmp_path, name, data):
    """A damaged file gives a picture or a MediaError, whatever was hit."""
    raw = bytearray(_bytes(photo(24, 16), name))
    for _ in range(data.draw(st.integers(1, 6))):
        raw[data.draw(st.integers(0, len(raw) - 1))] = data.draw(st.integers(0, 255))
    try:
        assert read_picture(_put(tmp_path, bytes(raw))).mode in ("RGB", "RGBA")
    except MediaError as error:
        assert error.message

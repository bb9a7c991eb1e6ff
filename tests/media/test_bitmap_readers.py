"""BMP files against other readers and writers: ImageMagick, netpbm, Pillow; pixel for pixel."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from splash_samples import BMP_LAYOUTS, kind, layout_name, magick_pixels, netpbm_pixels, ramp, run

from workbench.media.codec import decode_picture, encode_picture
from workbench.media.kind_reader import read_kind
from workbench.media.pixels import reduce_colours

SIZE = (37, 21)
"""Odd both ways: every depth has padding."""


def _levels(pixels: bytes, layout: dict[str, object]) -> bytes:
    """Sixteen-bit channels by their level: how 5 bits become 8 again is each reader's own choice."""
    if layout["bits"] != 16:
        return pixels
    green = 2 if layout.get("masks") == "565" else 3
    shifts = (3, green, 3)
    return bytes(value >> shifts[at % 3] for at, value in enumerate(pixels))


@pytest.mark.parametrize("layout", BMP_LAYOUTS, ids=layout_name)
def test_imagemagick_sees_the_pixels_that_we_wrote(layout, tmp_path):
    """Every depth, layout, header and row order of BMP."""
    image = ramp(*SIZE)
    raw = encode_picture(image, kind(layout, *SIZE), dither="none")
    (tmp_path / "x.bmp").write_bytes(raw)
    ours = decode_picture(raw, read_kind(raw)).convert("RGB").tobytes()
    assert _levels(magick_pixels(tmp_path / "x.bmp"), layout) == _levels(ours, layout)
    if layout["bits"] >= 24:
        assert ours == image.tobytes()


@pytest.mark.parametrize("layout", BMP_LAYOUTS, ids=layout_name)
def test_netpbm_sees_the_pixels_that_we_wrote(layout, tmp_path):
    """A second reader with no common code."""
    if layout["header"] == 40 and "masks" in layout:
        pytest.skip("netpbm 11.1 does not take masks behind a 40-byte header; ImageMagick checks these")
    raw = encode_picture(ramp(*SIZE), kind(layout, *SIZE), dither="none")
    (tmp_path / "x.bmp").write_bytes(raw)
    ours = decode_picture(raw, read_kind(raw)).convert("RGB").tobytes()
    assert netpbm_pixels(tmp_path / "x.bmp") == ours


@pytest.mark.parametrize("layout", [each for each in BMP_LAYOUTS if each["bits"] != 8], ids=layout_name)
def test_pillow_sees_the_pixels_that_we_wrote(layout):
    """Pillow's BMP reader, where it takes the file."""
    raw = encode_picture(ramp(*SIZE), kind(layout, *SIZE), dither="none")
    theirs = Image.open(io.BytesIO(raw)).convert("RGB")
    assert theirs.tobytes() == decode_picture(raw, read_kind(raw)).convert("RGB").tobytes()


@pytest.mark.parametrize(
    ("words", "described"),
    [
        (("-type", "TrueColor", "bmp3:-"), "37×21 BMP, 24 bits, bottom-up"),
        (("-alpha", "on", "bmp:-"), "37×21 BMP, 32 bits with alpha, bottom-up"),
        (("-define", "bmp:format=bmp4", "-type", "TrueColor", "bmp:-"), "37×21 BMP, 24 bits, bottom-up"),
        (
            ("-colors", "200", "-type", "palette", "-compress", "None", "bmp3:-"),
            "37×21 BMP, 8 bits, bottom-up",
        ),
        (("-define", "bmp:subtype=RGB565", "-alpha", "off", "bmp:-"), "37×21 BMP, 16 bits 5-6-5, bottom-up"),
        (("-define", "bmp:subtype=RGB555", "-alpha", "off", "bmp:-"), "37×21 BMP, 16 bits 5-5-5, bottom-up"),
    ],
)
def test_we_see_the_pixels_that_imagemagick_wrote(words, described, tmp_path):
    """Its kinds are told right, read right, and written back byte for byte (a palette: pixel for pixel)."""
    given = b"P6 37 21 255\n" + ramp(*SIZE).tobytes()
    raw = run("convert-im6.q16", "ppm:-", *words, given=given)
    told = read_kind(raw)
    assert told.describe().startswith(described)
    image = decode_picture(raw, told)
    (tmp_path / "x.bmp").write_bytes(raw)
    layout = {"bits": told.bits, "masks": told.masks}
    ours = image.convert("RGB").tobytes()
    assert _levels(ours, layout) == _levels(magick_pixels(tmp_path / "x.bmp"), layout)
    again = encode_picture(image, told, raw)
    assert len(again) == len(raw)
    if told.bits > 8:
        assert again == raw
    else:
        assert decode_picture(again, read_kind(again)).tobytes() == image.tobytes()


@pytest.mark.parametrize("words", [(), ("-windows",)])
def test_we_see_the_pixels_that_netpbm_wrote(words):
    """netpbm's writer, 24 bits."""
    raw = run("ppmtobmp", *words, "-bpp=24", given=b"P6 37 21 255\n" + ramp(*SIZE).tobytes())
    told = read_kind(raw)
    assert decode_picture(raw, told).tobytes() == ramp(*SIZE).tobytes()
    assert encode_picture(ramp(*SIZE), told, raw) == raw


@pytest.mark.parametrize("bits", [1, 4])
def test_small_palettes_are_read_and_written(bits, tmp_path):
    """One and four bits, against ImageMagick."""
    image = reduce_colours(ramp(*SIZE), 2**bits, "none").convert("RGB")
    raw = encode_picture(image, kind({"container": "bmp", "bits": bits}, *SIZE))
    (tmp_path / "x.bmp").write_bytes(raw)
    assert (
        magick_pixels(tmp_path / "x.bmp") == image.tobytes() == decode_picture(raw, read_kind(raw)).tobytes()
    )


def test_run_length_packing_is_read_not_written():
    """RLE8, as ImageMagick packs it: shown, and refused as an answer with what to ask for."""
    given = b"P6 37 21 255\n" + Image.new("RGB", SIZE, "teal").tobytes()
    raw = run("convert-im6.q16", "ppm:-", "-type", "palette", "-compress", "RLE", "bmp3:-", given=given)
    told = read_kind(raw)
    assert told.is_run_length and "run-length packed" in told.describe()
    assert decode_picture(raw, told).getpixel((5, 5)) == (0, 128, 128)
    with pytest.raises(Exception, match="ask for another kind"):
        encode_picture(ramp(*SIZE), told, raw)

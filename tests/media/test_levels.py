"""Sixteen bits: the values of U-Boot's own drawing code, and dithers that leave alone what fits already."""

from __future__ import annotations

import pytest
from PIL import Image, ImageStat
from splash_samples import kind, photo

from workbench.media.codec import decode_picture, encode_picture
from workbench.media.kind_reader import read_kind
from workbench.media.levels import DITHERS

RGB565 = {"container": "raw", "bits": 16}


@pytest.mark.parametrize(
    ("colour", "pixel"),
    [
        ((255, 0, 0), "00f8"),
        ((0, 255, 0), "e007"),
        ((0, 0, 255), "1f00"),
        ((128, 128, 128), "1084"),
        ((255, 128, 0), "00fc"),
        ((7, 3, 7), "0000"),
        ((255, 255, 255), "ffff"),
    ],
)
def test_plain_565_is_the_boot_loaders_cut(colour, pixel):
    """(r>>3)<<11 | (g>>2)<<5 | b>>3, little-endian: U-Boot, drivers/video/video_bmp.c."""
    raw = encode_picture(Image.new("RGB", (2, 1), colour), kind(RGB565, 2, 1), dither="none")
    assert raw.hex() == pixel * 2


@pytest.mark.parametrize(
    ("width", "height", "count"), [(640, 480, 614_400), (320, 240, 153_600), (720, 720, 1_036_800)]
)
def test_raw_565_is_two_bytes_a_pixel_and_nothing_else(width, height, count):
    """A frame buffer has no header and no padding."""
    assert len(encode_picture(Image.new("RGB", (width, height)), kind(RGB565, width, height))) == count


@pytest.mark.parametrize("dither", DITHERS)
@pytest.mark.parametrize("masks", ["565", "555"])
def test_every_level_survives_every_dither(dither, masks):
    """All levels of all channels, read and written back, are the same bytes."""
    pixels = b"".join(value.to_bytes(2, "little") for value in range(0x10000 if masks == "565" else 0x8000))
    height = len(pixels) // 512
    hint = {"container": "raw", "bits": 16, "masks": masks, "width": 256, "height": height}
    told = read_kind(pixels, hint)
    assert encode_picture(decode_picture(pixels, told), told, pixels, dither=dither) == pixels


@pytest.mark.parametrize("dither", ["ordered", "diffuse"])
@pytest.mark.parametrize("grey", [1, 3, 77, 130, 201, 252, 254])
def test_dithers_keep_the_average(dither, grey):
    """An even area comes out as bright as it went in, within half a value; the plain cut does not."""
    image = Image.new("RGB", (64, 64), (grey, grey, grey))
    told = kind({"container": "raw", "bits": 16}, 64, 64)
    seen = ImageStat.Stat(decode_picture(encode_picture(image, told, dither=dither), told))
    # The fifth of each kind of level is up to 8.2 values; 64 thresholds but only 8 used: 1 value at most.
    assert all(abs(mean - grey) <= 1.1 for mean in seen.mean)


@pytest.mark.parametrize("dither", ["ordered", "diffuse"])
def test_black_and_white_are_never_speckled(dither):
    """No dither touches the ends of the scale, even beside a gradient."""
    image = photo(64, 64)
    image.paste((0, 0, 0), (0, 0, 20, 64))
    image.paste((255, 255, 255), (44, 0, 64, 64))
    told = kind({"container": "raw", "bits": 16}, 64, 64)
    seen = decode_picture(encode_picture(image, told, dither=dither), told)
    assert seen.crop((0, 0, 20, 64)).getcolors() == [(20 * 64, (0, 0, 0))]
    assert seen.crop((44, 0, 64, 64)).getcolors() == [(20 * 64, (255, 255, 255))]


@pytest.mark.parametrize("dither", DITHERS)
def test_no_pixel_is_off_by_more_than_a_level(dither):
    """Each pixel is one of the two levels around it."""
    image, told = photo(50, 40), kind({"container": "raw", "bits": 16}, 50, 40)
    seen = decode_picture(encode_picture(image, told, dither=dither), told)
    steps = (9, 5, 9)
    assert all(
        abs(a - b) <= steps[at % 3]
        for at, (a, b) in enumerate(zip(image.tobytes(), seen.tobytes(), strict=True))
    )

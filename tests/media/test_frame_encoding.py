"""Frames in every container, as the profile asks for them."""

from __future__ import annotations

import io

import pytest
from PIL import Image, ImageDraw

from workbench.errors import MediaError
from workbench.media.frame_encoding import FrameEncoder
from workbench.media.frame_pixels import Pixels
from workbench.media.render_order import FrameFormat

SIZE = (64, 48)


@pytest.fixture
def shades():
    """Soft shades with a shape on them."""
    ramps = [Image.linear_gradient("L").resize(SIZE), Image.radial_gradient("L").resize(SIZE)]
    image = Image.merge("RGB", [*ramps, Image.new("L", SIZE, 90)])
    ImageDraw.Draw(image).rectangle((10, 10, 30, 30), (255, 0, 0))
    return image


def encode(image, **form):
    return FrameEncoder(FrameFormat(**form), image.size).encode(Pixels.of_image(image))


def read(content):
    return Image.open(io.BytesIO(content))


@pytest.mark.parametrize("container", ["png", "bmp"])
def test_lossless_containers_keep_every_pixel(container, shades):
    """Read back by Pillow."""
    assert read(encode(shades, container=container)).convert("RGB").tobytes() == shades.tobytes()


def test_jpeg_is_close_and_its_quality_counts(shades):
    """Baseline, near the original, smaller where less quality is asked for."""
    fine, coarse = (encode(shades, container="jpeg", quality=quality) for quality in (95, 40))
    assert len(coarse) < len(fine)
    assert "progressive" not in read(fine).info
    assert abs(read(fine).convert("RGB").getpixel((20, 20))[0] - 255) < 12


def test_raw_is_5_6_5_as_a_frame_buffer_has_it():
    """Red F800, green 07E0, blue 001F, little-endian; no header (U-Boot, video_bmp.c)."""
    image = Image.new("RGB", (4, 1))
    for x, colour in enumerate([(255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 255)]):
        image.putpixel((x, 0), colour)
    assert encode(image, container="raw", bits=16, masks="565") == bytes.fromhex("00f8e0071f00ffff")


@pytest.mark.parametrize(("colours", "bits"), [(2, 1), (4, 2), (16, 4), (256, 8)])
@pytest.mark.parametrize("dither", ["none", "diffuse"])
def test_a_palette_takes_no_more_bits_than_it_needs(colours, bits, dither, shades):
    """Never more colours than asked for; the depth in the header is the least that holds them."""
    content = encode(shades, container="png", colours=colours, dither=dither)
    assert content[24] <= bits and content[25] == 3
    assert len(read(content).convert("RGB").getcolors()) <= colours


def test_few_colours_stay_exact():
    """A picture that has no more colours than the palette comes back as it was."""
    image = Image.new("RGB", SIZE, (1, 2, 3))
    for at in range(200):
        image.putpixel((at % 64, at // 64), (at, 255 - at, at * 7 % 256))
    assert read(encode(image, container="png", colours=256)).convert("RGB").tobytes() == image.tobytes()


def test_a_colour_from_above_is_never_far(shades):
    """What is repeated for the sake of size stays within 8 steps of each channel."""
    noisy = Image.blend(shades, Image.effect_noise(SIZE, 60).convert("RGB"), 0.2)
    small = read(encode(noisy, container="png", colours=256)).convert("RGB")
    plain = noisy.quantize(256, Image.Quantize.FASTOCTREE, dither=Image.Dither.NONE).convert("RGB")
    pixels = zip(*(list(zip(*[iter(each.tobytes())] * 3, strict=True)) for each in (noisy, small, plain)),
                 strict=True)  # fmt: skip
    for true, got, nearest in pixels:
        assert got == nearest or sum((a - b) ** 2 for a, b in zip(true, got, strict=True)) <= 192


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"container": "jpeg", "colours": 16}, "have no palette"),
        ({"colours": 1}, "2 to 256"),
        ({"container": "raw", "bits": 12}, "do not go with raw"),
        ({"container": "bmp", "bits": 16, "masks": "8888"}, "do not go with 16 bits"),
    ],
)
def test_what_does_not_go_together_is_refused(form, says):
    """Before anything is decoded."""
    with pytest.raises(MediaError, match=says):
        FrameEncoder(FrameFormat(**form), SIZE)

"""Fit, background, turn; preview cells; colours; what loaders doubt."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image
from splash_samples import kind, photo, ramp

from workbench.errors import MediaError
from workbench.media.colours import parse_colour
from workbench.media.fitting import FITS, contained, fit_picture, turn_clockwise, turned_size
from workbench.media.loaders import find_doubts, is_sheared
from workbench.media.preview import half_blocks

BLUE = (0, 0, 255)


@pytest.mark.parametrize("fit", FITS)
@pytest.mark.parametrize("size", [(1, 1), (640, 10), (10, 640), (64, 48), (63, 49)])
def test_every_fit_fills_the_panel_exactly(fit, size):
    """Any shape comes out at the size asked for, as RGB."""
    fitted = fit_picture(photo(*size), 64, 48, fit, BLUE)
    assert (fitted.size, fitted.mode) == ((64, 48), "RGB")


def test_contain_shows_all_between_bars():
    """A wide picture gets bars above and below in the background colour."""
    red = Image.new("RGB", (200, 50), "red")
    fitted = fit_picture(red, 100, 100, "contain", BLUE)
    assert fitted.getpixel((50, 36)) == BLUE == fitted.getpixel((50, 63))
    assert fitted.getpixel((0, 38)) == fitted.getpixel((99, 61)) == (255, 0, 0)
    assert sum(fitted.getpixel((50, y)) == (255, 0, 0) for y in range(100)) == 25


def test_cover_leaves_no_bar_and_cuts_both_sides_alike():
    """The middle of a wide picture fills the panel."""
    wide = Image.new("RGB", (300, 100), "red")
    wide.paste(BLUE, (100, 0, 200, 100))
    assert fit_picture(wide, 50, 50, "cover", (0, 255, 0)).resize((1, 1)).getpixel((0, 0))[2] > 250


def test_stretch_lets_the_shape_go():
    """Left half red, right half blue, whatever the shape."""
    halves = Image.new("RGB", (20, 200), "red")
    halves.paste(BLUE, (10, 0, 20, 200))
    fitted = fit_picture(halves, 100, 40, "stretch")
    assert fitted.getpixel((10, 20)) == (255, 0, 0) and fitted.getpixel((90, 20)) == BLUE


def test_centre_never_scales():
    """A small picture is framed, a large one loses its rim; pixels stay pixels."""
    small = fit_picture(ramp(4, 2), 8, 6, "centre", BLUE)
    assert small.crop((2, 2, 6, 4)).tobytes() == ramp(4, 2).tobytes() and small.getpixel((0, 0)) == BLUE
    assert fit_picture(ramp(12, 10), 8, 6, "centre").tobytes() == ramp(12, 10).crop((2, 2, 10, 8)).tobytes()


@pytest.mark.parametrize("fit", FITS)
def test_a_picture_that_fits_is_not_touched(fit):
    """No resampling at the right size."""
    assert fit_picture(ramp(16, 8), 16, 8, fit).tobytes() == ramp(16, 8).tobytes()


def test_what_is_see_through_takes_the_background():
    """Half alpha mixes half and half (straight alpha, as PNG has it)."""
    image = Image.new("RGBA", (3, 1), (255, 0, 0, 128))
    image.putpixel((0, 0), (9, 9, 9, 0))
    fitted = fit_picture(image, 3, 1, "centre", BLUE)
    assert fitted.getpixel((0, 0)) == BLUE and fitted.getpixel((1, 0)) == (128, 0, 127)


def test_a_quarter_turn_is_clockwise():
    """The top left corner goes to the top right."""
    image = Image.new("RGB", (3, 2))
    image.putpixel((0, 0), BLUE)
    turned = turn_clockwise(image, 90)
    assert turned.size == (2, 3) == turned_size((3, 2), 90) and turned.getpixel((1, 0)) == BLUE


@given(st.sampled_from([0, 90, 180, 270]), st.integers(1, 9), st.integers(1, 9))
def test_a_turn_is_undone_by_its_opposite(degrees, width, height):
    """Without loss, at any size."""
    image = ramp(width, height)
    assert turn_clockwise(turn_clockwise(image, degrees), -degrees).tobytes() == image.tobytes()


@given(st.integers(1, 4000), st.integers(1, 4000), st.integers(1, 300), st.integers(1, 200))
def test_contained_sizes_touch_one_side(width, height, wide, high):
    """Within the room, at least a pixel, and as large as it can be."""
    found = contained((width, height), (wide, high))
    assert 1 <= found[0] <= wide and 1 <= found[1] <= high
    assert found[0] == wide or found[1] == high


@given(st.integers(1, 90), st.integers(1, 90), st.integers(1, 40), st.integers(1, 20))
def test_preview_cells_stay_in_their_room(width, height, columns, rows):
    """Every line as wide as the first, none more than asked."""
    cells = half_blocks(Image.new("RGB", (width, height), "red"), columns, rows)
    assert 1 <= len(cells) <= rows
    assert {len(line) for line in cells} == {len(cells[0])} and len(cells[0]) <= columns


def test_preview_cells_hold_the_upper_and_the_lower_pixel():
    """Exact pixels at their own size; an odd last row is background below."""
    image = ramp(4, 3)
    cells = half_blocks(image, 4, 2)
    assert cells[0][1] == (image.getpixel((1, 0)), image.getpixel((1, 1)))
    assert cells[1][3] == (image.getpixel((3, 2)), (0, 0, 0))
    assert half_blocks(image, 0, 5) == [] == half_blocks(image, 5, 0)


@pytest.mark.parametrize(
    ("text", "colour"),
    [("#0a141E", (10, 20, 30)), ("0a141e", (10, 20, 30)), ("#fA0", (255, 170, 0)), (" Teal ", (0, 128, 128))],
)
def test_colours_are_read_as_people_write_them(text, colour):
    """Hex as in CSS, and its sixteen basic names."""
    assert parse_colour(text) == colour


@pytest.mark.parametrize(
    ("text", "words"), [("whit", "did you mean white"), ("#12345", "no colour"), ("", "no colour")]
)
def test_other_colours_are_a_sentence(text, words):
    """With the closest name."""
    with pytest.raises(MediaError, match=words):
        parse_colour(text)


@pytest.mark.parametrize(
    ("width", "bits", "sheared"),
    [
        (640, 24, False),
        (641, 24, True),
        (642, 24, False),
        (643, 24, True),
        (641, 16, True),
        (642, 16, True),
        (643, 16, True),
        (640, 16, False),
        (641, 8, False),
        (642, 8, False),
        (641, 32, False),
    ],
)
def test_widths_that_loaders_shear(width, bits, sheared):
    """U-Boot skips (-width mod 4) bytes a row whatever the depth (drivers/video/video_bmp.c)."""
    assert is_sheared(kind({"container": "bmp", "bits": bits}, width, 4)) == sheared


def test_loaders_doubt_what_u_boot_does_not_show():
    """Top-down rows, and over 0x100000 bytes unpacked (VIDEO_LOGO_MAX_SIZE); 640×480×24 is safe."""
    from dataclasses import replace

    safe = kind({"container": "bmp", "bits": 24, "gzip": True}, 640, 480)
    assert find_doubts(replace(safe, unpacked=921_654)) == ()
    assert "1,555,254 bytes unpacked" in find_doubts(replace(safe, unpacked=1_555_254))[0]
    assert "from the top" in find_doubts(replace(safe, rows="top-down"))[0]

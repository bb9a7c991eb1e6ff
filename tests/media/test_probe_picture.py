"""The test picture of a probe, looked at by ImageMagick and netpbm, which share no code with ours."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.media.fitting import turn_clockwise
from workbench.media.probe_picture import BARS, LETTERS, draw_probe, middle_box

SIZES = [(320, 240), (240, 400), (64, 48), (641, 481)]
COMMON = ["-depth", "8"]


def convert(*words: str | Path) -> bytes:
    tool = shutil.which("convert")
    if tool is None:
        pytest.skip("ImageMagick is not installed")
    return subprocess.run([tool, *map(str, words)], capture_output=True, check=True, timeout=60).stdout


@pytest.mark.parametrize("size", SIZES)
def test_picture_holds_only_full_colours(size, tmp_path):
    """Black, white and the three primaries: 5-6-5 holds them all, so what is seen is what was stored."""
    draw_probe(*size).save(tmp_path / "probe.png")
    told = convert(tmp_path / "probe.png", *COMMON, "-unique-colors", "txt:-").decode()
    colours = {line.split()[2] for line in told.splitlines()[1:]}
    assert colours == {"#000000", "#FFFFFF", "#FF0000", "#00FF00", "#0000FF"}


@pytest.mark.parametrize("size", SIZES[:2])
def test_bars_stand_red_green_blue(size, tmp_path):
    """Bar 1 is red, bar 2 green, bar 3 blue, from left to right, each over its full height."""
    draw_probe(*size).save(tmp_path / "probe.png")
    left, top, right, _ = middle_box(*size)
    for number, colour in enumerate(BARS):
        x = left + (right - left) * (2 * number + 1) // 6
        pixel = convert(tmp_path / "probe.png", "-crop", f"1x1+{x}+{top + 1}", *COMMON, "rgb:-")
        assert pixel == bytes(colour)


def test_comb_changes_at_each_pixel(tmp_path):
    """The stripes are one pixel wide: netpbm sees black and white alternate along the row."""
    width, height = 320, 240
    draw_probe(width, height).save(tmp_path / "probe.ppm")
    if shutil.which("pamcut") is None:
        pytest.skip("netpbm is not installed")
    left, _, _, bottom = middle_box(width, height)
    words = ["pamcut", "-left", str(left), "-top", str(bottom - 3), "-width", "40", "-height", "1"]
    cut = subprocess.run([*words, str(tmp_path / "probe.ppm")], capture_output=True, check=True, timeout=60)
    assert cut.stdout[-120:] == (b"\xff\xff\xff\0\0\0") * 20


@pytest.mark.parametrize("size", SIZES)
def test_frame_is_one_pixel_all_round(size):
    """A cut picture is seen by its frame: the outermost pixels are white, those within are not."""
    picture = draw_probe(*size)
    width, height = size
    corners = [(0, 0), (width - 1, 0), (0, height - 1), (width - 1, height - 1), (width // 2, 0), (0, 5)]
    assert {picture.getpixel(corner) for corner in corners} == {(255, 255, 255)}
    assert picture.getpixel((1, 1)) == (0, 0, 0)


def top_letter(picture: Image.Image) -> Image.Image:
    """The middle of the upper edge, cut out as a square in units of the letters' size."""
    scale = max(1, min(picture.size) // 48)
    left = (picture.width - 5 * scale) // 2
    return picture.crop((left, 2 * scale, left + 5 * scale, 9 * scale))


@pytest.mark.parametrize("size", [(320, 240), (480, 480), (95, 65)])
def test_each_edge_has_its_letter_upright_when_it_is_on_top(size):
    """Turned so that an edge comes to the top, the picture shows that edge's letter as F stands by itself."""
    first_rows = {"F": "#####", "G": ".###.", "J": "..###", "R": "####."}
    for number, letter in enumerate(LETTERS):
        small = top_letter(turn_clockwise(draw_probe(*size), -90 * number)).resize(
            (5, 7), Image.Resampling.NEAREST
        )
        row = "".join("#" if small.getpixel((x, 0)) == (255, 255, 255) else "." for x in range(5))
        assert row == first_rows[letter]


def test_no_letter_is_another_one_turned_or_mirrored():
    """A mirrored picture cannot be taken for a turned one: no letter's outline is another's."""
    outlines = []
    for number in range(4):
        letter = top_letter(turn_clockwise(draw_probe(240, 240), -90 * number))
        forms = set()
        for flipped in (letter, letter.transpose(Image.Transpose.FLIP_LEFT_RIGHT)):
            forms |= {(form.size, form.tobytes()) for form in (flipped, flipped.rotate(180))}
        outlines.append(forms)
        assert len(forms) == 4
    assert not any(one & other for one in outlines for other in outlines if one is not other)


def test_too_small_is_refused():
    """Below 48 pixels the letters could not be read, and the picture would tell nothing."""
    with pytest.raises(MediaError, match="48 pixels"):
        draw_probe(320, 40)

"""What a whole render makes of an order: names, effects, holds, the still."""

from __future__ import annotations

import hashlib
from fractions import Fraction

import pytest
from PIL import Image

from workbench.errors import MediaError
from workbench.media.render_order import FrameFormat


@pytest.fixture
def white(tmp_path):
    """A white picture that stands for a second."""
    path = tmp_path / "white.gif"
    first, second = Image.new("RGB", (64, 48), (255, 255, 255)), Image.new("RGB", (64, 48), (255, 255, 254))
    first.save(path, save_all=True, append_images=[second], duration=500)
    return path


def first_pixels(report, folder):
    return [Image.open(folder / file.name).convert("RGB").getpixel((5, 5)) for file in report.frames]


def test_names_sizes_and_hashes_are_those_on_disk(white, render):
    """Numbered and padded as asked; the report tells size and SHA-256 of each file, and of no other."""
    report, folder = render(
        white, delay=Fraction(1, 4), frames=FrameFormat(pattern="p{n}.png", first=1, pad=3)
    )
    assert [file.name for file in report.frames] == ["p001.png", "p002.png", "p003.png", "p004.png"]
    assert sorted(each.name for each in folder.iterdir()) == sorted(file.name for file in report.frames)
    for file in report.frames:
        content = (folder / file.name).read_bytes()
        assert (file.size, file.sha256) == (len(content), hashlib.sha256(content).hexdigest())


def test_fades_begin_and_end_at_the_background(white, render):
    """First and last frame are the background itself; between, the share of the picture grows evenly."""
    report, folder = render(
        white, delay=Fraction(1, 10), background=(0, 0, 200), fade_in=Fraction(2, 5), fade_out=Fraction(1, 5)
    )
    reds = [pixel[0] for pixel in first_pixels(report, folder)]
    assert reds == [0, 64, 128, 191, 255, 255, 255, 255, 128, 0]
    assert first_pixels(report, folder)[0] == (0, 0, 200)


def test_dimming_takes_from_everything(white, render):
    """Half the stored values."""
    report, folder = render(white, dim=Fraction(1, 2))
    assert {pixel[0] for pixel in first_pixels(report, folder)} == {128}


def test_speed_and_holds_count_in_the_length(white, render):
    """Twice as fast, half a second held: 0.2 + 0.5 + 0.3 s."""
    report, _ = render(
        white, delay=Fraction(1, 20), speed=Fraction(2), hold_start=Fraction(1, 5), hold_end=Fraction(3, 10)
    )
    assert (report.count, report.length) == (20, Fraction(1))


def test_the_still_is_upright_and_in_all_colours(tmp_path, render):
    """Frames are turned and in few colours; the still for art is neither."""
    picture = Image.linear_gradient("L").resize((64, 48)).convert("RGB")
    picture.save(tmp_path / "one.png")
    report, folder = render(tmp_path / "one.png", rotate=270, still=99, frames=FrameFormat(colours=4))
    frame = Image.open(folder / report.frames[0].name).convert("RGB")
    still = Image.open(folder / report.still.name).convert("RGB")
    assert frame.size == (48, 64) and len(frame.getcolors()) <= 4
    assert still.size == (64, 48) and len(still.getcolors()) > 20


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ({"delay": Fraction(0)}, "more than 0"),
        ({"speed": Fraction(-1)}, "more than 0"),
        ({"dim": Fraction(2)}, "dimming"),
        ({"start": Fraction(-1)}, "0 or more"),
        ({"panel": (0, 5)}, "panel of 0×5"),
        ({"crop": (60, 0, 10, 10)}, "does not lie within the clip, which shows 64×48"),
        ({"frames": FrameFormat(pattern="../{n}.png")}, "no folders"),
        ({"frames": FrameFormat(pattern="a.png")}, "names no frames"),
        ({"start": Fraction(9)}, "nothing to show"),
    ],
)
def test_orders_that_cannot_be_carried_out(wish, says, white, render):
    """Each is one sentence; no file is left."""
    with pytest.raises(MediaError, match=says):
        render(white, **wish)


@pytest.mark.parametrize("turn", [0, 90, 180, 270])
def test_a_turn_moves_the_corner_clockwise(turn, tmp_path, render):
    """A mark in the upper left corner goes clockwise round the frame."""
    picture = Image.new("RGB", (64, 48))
    picture.paste((255, 255, 255), (0, 0, 8, 8))
    picture.save(tmp_path / "one.png")
    report, folder = render(tmp_path / "one.png", rotate=turn)
    frame = Image.open(folder / report.frames[0].name).convert("RGB")
    right, below = frame.width - 3, frame.height - 3
    corner = {0: (3, 3), 90: (right, 3), 180: (right, below), 270: (3, below)}[turn]
    assert frame.getpixel(corner) == (255, 255, 255)
    assert sum(frame.convert("L").point(lambda value: value > 200).histogram()[1:]) == 64

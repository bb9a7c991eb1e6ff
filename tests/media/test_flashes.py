"""Flashes by WCAG 2.2 SC 2.3.1 (guidelines/terms/20, Understanding 2.3.1); counts worked out from the
definition."""

from __future__ import annotations

from fractions import Fraction

import pytest
from PIL import Image, ImageDraw

from workbench.media.flash_cells import open_cells
from workbench.media.flash_rules import STEP, UNIT, Turns, darker_is_dark, linear
from workbench.media.flash_window import Window
from workbench.media.flashes import FlashAnalyser

SIZE = (32, 24)
BLACK, WHITE, RED = (0, 0, 0), (255, 255, 255), (255, 0, 0)


def grey(value):
    return (value, value, value)


def solid(colour):
    return Image.new("RGB", SIZE, colour)


def examine(frames, rate, seconds=3, *, loops=False, plain=False):
    """The verdict on these frames, over and over for some seconds."""
    analyser = FlashAnalyser(*frames[0].size, loops=loops, plain=plain)
    for index in range(int(rate * seconds)):
        analyser.feed(frames[index % len(frames)], Fraction(index) / rate)
    return analyser.finish()


def alternate(one, other, held):
    return [solid(one)] * held + [solid(other)] * held


def count_turns(lights, rate, *, plain=False):
    """Transitions in the worst second of a panel that shows these luminances in turn for three seconds."""
    cells = open_cells(*SIZE, plain=plain)
    planes = [cells.fill(round(light * UNIT)) for light in lights]
    turns, window = Turns(cells, STEP, planes[0]), Window(cells)
    for index in range(1, 3 * rate):
        window.add(Fraction(index, rate), *turns.follow(planes[index % len(planes)], darker_is_dark))
    return window.transitions


@pytest.mark.parametrize("plain", [False, True], ids=["numpy", "Pillow"])
@pytest.mark.parametrize(
    ("one", "other", "held", "rate", "transitions", "literal", "strict"),
    [
        (BLACK, WHITE, 15, 60, 4, True, True),
        (BLACK, WHITE, 4, 24, 6, True, True),
        (BLACK, WHITE, 5, 30, 6, True, True),
        (BLACK, WHITE, 10, 60, 6, True, True),
        (BLACK, WHITE, 4, 28, 7, True, False),
        (BLACK, WHITE, 4, 30, 8, False, False),
        (BLACK, WHITE, 3, 24, 8, False, False),
        (BLACK, WHITE, 1, 6, 6, True, True),
        (BLACK, WHITE, 1, 8, 8, False, False),
        (BLACK, WHITE, 1, 30, 30, False, False),
        (grey(238), grey(250), 1, 30, 0, True, True),
        (grey(232), WHITE, 1, 30, 0, True, True),
        (grey(231), grey(244), 1, 30, 30, False, False),
        (BLACK, grey(89), 1, 30, 0, True, True),
        (BLACK, grey(90), 1, 30, 30, False, False),
        (BLACK, (0, 0, 255), 1, 30, 0, True, True),
    ],
)
def test_full_frames(one, other, held, rate, transitions, literal, strict, plain):
    """The whole panel, by stored values: counts, the literal rule (4 flashes) and the strict (over 6
    changes)."""
    verdict = examine(alternate(one, other, held), Fraction(rate), plain=plain)
    assert (verdict.transitions, verdict.general_flashes) == (transitions, transitions // 2)
    assert ("general" not in verdict.failed, verdict.passes) == (literal, strict)
    assert verdict.red_transitions == 0


@pytest.mark.parametrize("plain", [False, True], ids=["numpy", "Pillow"])
@pytest.mark.parametrize(
    ("lights", "transitions"),
    [
        ((0.85, 0.95), 0),
        ((0.95, 0.85), 0),
        ((0.75, 0.85), 30),
        ((0.85, 0.75), 30),
        ((0.0, 0.06, 0.12, 0.06), 15),
        ((0.0, 0.04, 0.08, 0.04), 0),
        ((1.0, 0.9, 0.8, 0.9), 0),
        ((1.0, 0.85, 0.79, 0.85), 15),
    ],
)
def test_steps_of_luminance(lights, transitions, plain):
    """A change may take several frames; between two bright images it is none; 0.85 - 0.75 is a tenth."""
    assert count_turns(lights, 30, plain=plain) == transitions


@pytest.mark.parametrize(
    ("colour", "light"),
    [
        (RED, 0.2126),
        ((0, 255, 0), 0.7152),
        ((0, 0, 255), 0.0722),
        ((255, 255, 0), 0.9278),
        ((0, 255, 255), 0.7874),
        ((255, 0, 255), 0.2848),
        (grey(89), 0.0999),
        (grey(90), 0.10224),
        (grey(124), 0.20156),
        (grey(128), 0.2159),
        (grey(188), 0.50289),
        (grey(231), 0.7991),
        (grey(232), 0.80695),
        (grey(238), 0.85499),
        (grey(244), 0.90466),
        (grey(250), 0.95597),
    ],
)
def test_relative_luminance(colour, light):
    """L = 0.2126 R + 0.7152 G + 0.0722 B of linear light."""
    parts = zip((0.2126, 0.7152, 0.0722), colour, strict=True)
    assert sum(weight * linear(value / 255) for weight, value in parts) == pytest.approx(light, abs=6e-5)


@pytest.mark.parametrize("plain", [False, True], ids=["numpy", "Pillow"])
@pytest.mark.parametrize(
    ("other", "by_value", "by_distance"),
    [
        (BLACK, True, True),
        (WHITE, True, True),
        ((255, 255, 0), True, True),
        ((255, 0, 255), True, True),
        ((0, 0, 255), True, True),
        ((128, 0, 0), True, False),
        ((255, 136, 0), True, False),
    ],
)
def test_red_pairs(other, by_value, by_distance, plain):
    """Saturated red against other colours, by the wording of 2.0/2.1 and by that of 2.2; either fails."""
    verdict = examine(alternate(RED, other, 1), Fraction(10), plain=plain)
    assert (verdict.red_transitions, verdict.red_flashes) == (10, 5)
    assert ("red 2.0" in verdict.failed, "red 2.2" in verdict.failed) == (by_value, by_distance)
    assert not verdict.passes


@pytest.mark.parametrize(
    ("colour", "saturated"), [((255, 136, 0), True), ((255, 137, 0), False), ((255, 128, 128), False)]
)
def test_what_is_a_saturated_red(colour, saturated):
    """R / (R + G + B) of at least 0.8, of linear light: 0.8024, 0.7999 and 0.6985."""
    verdict = examine(alternate(colour, BLACK, 1), Fraction(10))
    assert bool(verdict.red_transitions) is saturated


def test_red_slower_than_the_limit_passes():
    """Three red flashes a second are allowed like three general ones."""
    verdict = examine(alternate(RED, BLACK, 5), Fraction(30))
    assert (verdict.passes, verdict.red_transitions) == (True, 6)


def test_near_black_has_no_hue():
    """Between values of 1 and 0, where one step is a jump in u'v', nothing is a red flash."""
    assert examine(alternate((3, 0, 0), BLACK, 1), Fraction(30)).passes


def test_a_fade_from_red_over_orange_counts():
    """Red leaves for yellow in small steps, each under 0.2 in u'v'; the whole way is what counts."""
    way = [(255, green, 0) for green in (0, 100, 136, 180, 220, 255, 220, 180, 136, 100)]
    assert examine([solid(colour) for colour in way], Fraction(60)).red_transitions == 12


@pytest.mark.parametrize(("part", "passes"), [(0.09, True), (0.11, False), (1.0, False)])
def test_only_an_area_under_a_tenth_is_let_go(part, passes):
    """A flash on 9 % of the panel passes and is reported; 11 % fails."""
    lit = Image.new("RGB", (320, 240), BLACK)
    ImageDraw.Draw(lit).rectangle((0, 0, 319, round(240 * part) - 1), WHITE)
    verdict = examine([Image.new("RGB", (320, 240), BLACK), lit], Fraction(10), 2)
    assert verdict.passes is passes
    assert verdict.area == pytest.approx(part, abs=0.01)


def test_halves_that_flash_by_turns_fail():
    """One half lights up as the other goes dark: the average stands still, each half flashes."""
    left = Image.new("RGB", (320, 240), BLACK)
    left.paste(WHITE, (0, 0, 160, 240))
    assert examine([left, left.rotate(180)], Fraction(10)).transitions == 10


def test_a_coarse_checkerboard_that_reverses_fails_and_a_fine_one_passes():
    """Squares of 1 degree flash; a balanced pattern finer than 0.1 degree is grey all the time."""

    def board(square):
        image = Image.new("RGB", (640, 480), BLACK)
        for row in range(480 // square):
            for column in range(row % 2, 640 // square, 2):
                image.paste(WHITE, (column * square, row * square, (column + 1) * square, (row + 1) * square))
        return image

    coarse, fine = board(40), board(2)
    assert not examine([coarse, coarse.transpose(Image.Transpose.FLIP_LEFT_RIGHT)], Fraction(15), 1).passes
    assert examine([fine, fine.transpose(Image.Transpose.FLIP_LEFT_RIGHT)], Fraction(15), 1).passes


def test_lamps_that_flash_here_and_there_fail_together():
    """Each quarter flashes once a second, one after the other: the panel as a whole flashes four times."""
    frames = []
    for quarter in range(4):
        lit = solid(BLACK)
        lit.paste(WHITE, (8 * quarter, 0, 8 * quarter + 8, 24))
        frames += [lit, solid(BLACK)]
    verdict = examine(frames, Fraction(8))
    assert (verdict.transitions, verdict.passes) == (8, False)


def test_a_moving_edge_is_no_flash():
    """A white half wanders across; every cell changes once in a while."""
    frames = [Image.new("RGB", (320, 240), BLACK) for _ in range(40)]
    for index, frame in enumerate(frames):
        frame.paste(WHITE, (8 * index, 0, 8 * index + 160, 240))
        frame.paste(WHITE, (8 * index - 320, 0, 8 * index - 160, 240))
    assert examine(frames, Fraction(30)).passes


def test_a_clip_that_loops_is_examined_while_looping():
    """Six changes in half a second are allowed once, and not over and over."""
    frames = alternate(BLACK, WHITE, 1) * 3
    for loops in (False, True):
        analyser = FlashAnalyser(*SIZE, loops=loops)
        for index, frame in enumerate(frames):
            analyser.feed(frame, Fraction(index, 12))
        assert analyser.finish().passes is not loops


def test_a_last_frame_that_stands_breaks_the_loop():
    """The length tells how long the last frame is shown before it begins anew."""
    for length, passes in ((Fraction(1), False), (Fraction(2), True)):
        analyser = FlashAnalyser(*SIZE, loops=True)
        for index, frame in enumerate(alternate(BLACK, WHITE, 1) * 2 + [solid(BLACK)]):
            analyser.feed(frame, Fraction(index, 4) / 4 * Fraction(2, 3))
        verdict = analyser.finish(length / 2 if not passes else length)
        assert verdict.passes is passes


def test_it_says_where_it_fails():
    """Calm for two seconds, then flashes: the second that fails begins with the first of them."""
    analyser = FlashAnalyser(*SIZE)
    for index in range(120):
        analyser.feed(solid(WHITE if index >= 60 and index % 2 else BLACK), Fraction(index, 30))
    verdict = analyser.finish()
    assert verdict.first_failing_second == Fraction(61, 30)
    assert verdict.shorter == Fraction(67, 30)


FLICKER = alternate(BLACK, grey(200), 2)


def play(frames, rate, seconds, delay, *, slower=1, dim=1, length=None):
    """The verdict on a clip as a device shows it that draws a frame every `delay`."""
    analyser = FlashAnalyser(*SIZE)
    index = 0
    while index * delay < (length or seconds * slower):
        frame = frames[int(index * delay / slower * rate) % len(frames)]
        analyser.feed(frame.point(lambda value: int(value * dim)), index * delay)
        index += 1
    return analyser.finish()


def test_each_remedy_passes_when_it_is_examined_again():
    """Slower at whole delays of the device, dimmed, and cut short."""
    delay = Fraction(35, 1000)
    verdict = play(FLICKER, 25, 3, delay)
    assert not verdict.passes
    assert play(FLICKER, 25, 3, delay, slower=verdict.slower).passes
    assert play(FLICKER, 25, 3, delay, dim=verdict.dim).passes
    assert play(FLICKER, 25, 3, delay, length=verdict.shorter).passes
    assert not play(FLICKER, 25, 3, delay, length=verdict.shorter + delay).passes


def test_dimmed_red_stays_red():
    """No dimming is offered where the 2.2 wording fails: u'v' do not change with the light."""
    verdict = examine(alternate(RED, BLACK, 1), Fraction(10))
    assert verdict.dim is None
    assert verdict.slower is not None


def test_one_frame_is_no_flash():
    """Nothing to compare it with."""
    analyser = FlashAnalyser(*SIZE, loops=True)
    analyser.feed(solid(WHITE), Fraction(0))
    assert analyser.finish().passes


def test_frames_out_of_order_are_a_mistake():
    """Times have to grow."""
    analyser = FlashAnalyser(*SIZE)
    analyser.feed(solid(WHITE), Fraction(1))
    with pytest.raises(ValueError, match="order"):
        analyser.feed(solid(BLACK), Fraction(1))

"""What must hold of any flicker, and the count of changes against trying every choice of frames."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from workbench.media.flash_cells import open_cells
from workbench.media.flash_remedies import find_dim, find_slower
from workbench.media.flash_rules import STEP, UNIT, Turns, darker_is_dark, encoded, linear
from workbench.media.flash_window import MOST, Window
from workbench.media.flashes import FlashAnalyser

SIZE = (16, 12)
LIGHTS = st.lists(st.integers(0, 20).map(lambda part: Fraction(part, 20)), min_size=2, max_size=14)
GREYS = st.lists(st.integers(0, 255), min_size=2, max_size=40)


def window_of(lights, rate):
    """Everything counted of a panel that shows these luminances, one each 1/rate seconds."""
    cells = open_cells(*SIZE, plain=True)
    planes = [cells.fill(round(light * UNIT)) for light in lights]
    turns, window = Turns(cells, STEP, planes[0]), Window(cells)
    for index, plane in enumerate(planes[1:], start=1):
        window.add(Fraction(index) / rate, *turns.follow(plane, darker_is_dark))
    return window


def longest_chain(lights):
    """The most opposing changes, a tenth each and the darker under 0.8, that any choice of frames makes."""
    best = {}
    for at, light in enumerate(lights):
        for up in (True, False):
            steps = [0]
            for before, other in enumerate(lights[:at]):
                change = light - other if up else other - light
                if change >= Fraction(1, 10) and min(light, other) < Fraction(8, 10):
                    steps.append(best[before, not up] + 1)
            best[at, up] = max(steps)
    return max(best.values())


@settings(max_examples=150, deadline=None)
@given(LIGHTS)
def test_as_many_changes_as_any_choice_of_frames_makes(lights):
    """Following peaks and valleys finds the most that there are."""
    assert window_of(lights, 30).transitions == longest_chain(lights)


@settings(max_examples=40, deadline=None)
@given(LIGHTS, st.integers(2, 4))
def test_standing_frames_change_nothing(lights, held):
    """Each frame shown several times as often, each for a part of its time."""
    doubled = [light for light in lights for _ in range(held)]
    assert window_of(doubled, 30 * held).transitions == window_of(lights, 30).transitions


@settings(max_examples=40, deadline=None)
@given(LIGHTS, st.sampled_from([10, 20, 30]))
def test_slower_is_never_worse(lights, rate):
    """Twice the time for each frame: no second has more in it."""
    assert window_of(lights * 3, rate / 2).transitions <= window_of(lights * 3, rate).transitions


def verdict_of(greys, rate, *, start=Fraction(0), dim=Fraction(1), loops=False):
    analyser = FlashAnalyser(*SIZE, loops=loops)
    for index, grey in enumerate(greys):
        value = int(grey * dim)
        analyser.feed(Image.new("RGB", SIZE, (value, value, value)), start + Fraction(index) / rate)
    return analyser.finish()


@settings(max_examples=30, deadline=None)
@given(GREYS, st.fractions(0, 100, max_denominator=60))
def test_when_it_begins_does_not_matter(greys, start):
    """Times are counted from the first frame."""
    assert verdict_of(greys, 20, start=start) == verdict_of(greys, 20)


@settings(max_examples=30, deadline=None)
@given(GREYS)
def test_over_and_over_is_never_calmer(greys):
    """What fails once fails while looping."""
    assert verdict_of(greys, 20, loops=True).transitions >= verdict_of(greys, 20).transitions


@settings(max_examples=60, deadline=None)
@given(GREYS, st.sampled_from([10, 20, 30]))
def test_each_remedy_of_a_grey_flicker_holds(greys, rate):
    """Dimmed, cut short, and slower by the factor itself: examined again, it passes."""
    verdict = verdict_of(greys, rate)
    if verdict.passes:
        assert (verdict.slower, verdict.dim, verdict.shorter) == (None, None, None)
        return
    assert verdict_of(greys, rate, dim=verdict.dim).passes
    assert verdict_of(greys, rate / verdict.slower).passes
    kept = greys[: int(verdict.shorter * rate)]
    assert verdict_of(kept, rate).passes


@settings(deadline=None)
@given(st.fractions(Fraction(1, 100), Fraction(9, 10)), st.fractions(Fraction(1, 100), Fraction(1, 5)))
def test_seven_turns_take_a_second_when_slowed_down(span, delay):
    """Even if each comes up to one delay late."""
    assert find_slower(span, delay) * span - delay >= 1


@settings(deadline=None)
@given(st.integers(0, UNIT), st.integers(0, UNIT))
def test_dimmed_lights_are_under_a_tenth_apart(one, other):
    """Of greys, to what their stored values become."""
    low, high = sorted((one, other))
    dim = find_dim(low, high)
    assert dim is not None
    values = [int(255 * encoded(light / UNIT) * dim) / 255 for light in (low, high)]
    assert linear(values[1]) - linear(values[0]) < 0.1


@settings(deadline=None)
@given(st.floats(0, 1))
def test_encoded_light_comes_back(light):
    """`encoded` is the inverse of `linear`."""
    assert linear(encoded(light)) == pytest.approx(light, abs=1e-6)


def test_the_shortest_time_of_seven_turns_is_found():
    """Calm flicker first, then a burst: the burst decides how much slower it has to be."""
    lights = [Fraction(index % 2) for index in range(10)]
    slow, fast = Window(open_cells(*SIZE)), window_of(lights, 20)
    assert slow.span is None
    assert fast.span == Fraction(MOST, 20)

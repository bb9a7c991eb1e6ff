"""Drift by arithmetic from its definition, and the thresholds of ITU-R BT.1359-1."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.media.drift import (
    describe_drift,
    naive_drift,
    notice_after,
    our_drift,
    rounded_delay,
)

NTSC = Fraction(30000, 1001)


@pytest.mark.parametrize(
    ("rate", "delay", "after_3", "after_5", "after_10", "each_second"),
    [
        (Fraction(30), 35, 150, 250, 500, 50),
        (Fraction(30), 33, -30, -50, -100, -10),
        (Fraction(30), 34, 60, 100, 200, 20),
        (NTSC, 33, -33.0, -54.9, -109.9, -10.99),
        (NTSC, 35, 146.9, 244.8, 489.5, 48.95),
        (Fraction(25), 40, 0, 0, 0, 0),
        (Fraction(24), 41, -48, -80, -160, -16),
        (Fraction(24), 42, 24, 40, 80, 8),
        (Fraction(15), 66, -30, -50, -100, -10),
        (Fraction(15), 67, 15, 25, 50, 5),
    ],
)
def test_the_naive_way(rate, delay, after_3, after_5, after_10, each_second):
    """Every frame shown for a whole delay: N × (delay - 1000/rate) ms."""
    for seconds, expected in ((3, after_3), (5, after_5), (10, after_10), (1, each_second)):
        drift = naive_drift(rate, Fraction(delay, 1000), Fraction(seconds))
        assert float(drift * 1000) == pytest.approx(expected, abs=0.06)


def test_drawing_takes_time_too():
    """A player that sleeps 33 ms after 2 ms of drawing shows a frame for 35."""
    assert rounded_delay(Fraction(30), Fraction(2, 1000)) == Fraction(35, 1000)


@pytest.mark.parametrize(
    ("rate", "delay"),
    [
        (Fraction(30), 33),
        (NTSC, 33),
        (Fraction(25), 40),
        (Fraction(24), 42),
        (Fraction(24000, 1001), 42),
        (Fraction(15), 67),
    ],
)
def test_the_delay_that_the_naive_way_takes(rate, delay):
    """The nearest whole millisecond."""
    assert rounded_delay(rate) == Fraction(delay, 1000)


def test_when_it_is_noticed():
    """35 ms at 30 frames a second: 45 ms after 0.9 s. 33 ms: 125 ms the other way after 12.5 s."""
    assert notice_after(Fraction(30), Fraction(35, 1000)) == Fraction(9, 10)
    assert notice_after(Fraction(30), Fraction(33, 1000)) == Fraction(25, 2)
    assert notice_after(Fraction(25), Fraction(40, 1000)) is None


@pytest.mark.parametrize(
    ("milliseconds", "words"),
    [
        (0, "in step"),
        (44, "44 ms early, which nobody notices"),
        (45, "45 ms early, which is noticed"),
        (90, "90 ms early, which is noticed"),
        (91, "91 ms early, more than is acceptable (90 ms)"),
        (-124, "124 ms late, which nobody notices"),
        (-125, "125 ms late, which is noticed (from 125 ms)"),
        (-186, "186 ms late, more than is acceptable (185 ms)"),
    ],
)
def test_the_thresholds_in_words(milliseconds, words):
    """A late picture is an early sound: noticed from 45 ms, acceptable to 90; late 125 and 185."""
    assert words in describe_drift(Fraction(milliseconds, 1000))


def test_frames_at_the_devices_own_times():
    """5 seconds at 35 ms: 143 frames in 5.005 seconds."""
    assert our_drift(Fraction(35, 1000), 143, Fraction(5)) == Fraction(5, 1000)


@settings(deadline=None)
@given(
    st.fractions(Fraction(1, 200), Fraction(1, 5), max_denominator=10000),
    st.fractions(Fraction(1), Fraction(60), max_denominator=1000),
)
def test_our_drift_stays_under_one_delay(delay, length):
    """As many frames as cover the sound, whatever the delay."""
    assert 0 <= our_drift(delay, -(-length // delay), length) < delay

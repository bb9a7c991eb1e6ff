"""Frames are looked up at the device's own times, exactly."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import MediaError
from workbench.media.frame_times import choose, count_frames, lay_out, pick, whole_delays
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass, replace

MS = Fraction(1, 1000)
VARIABLE = [0, 33, 67, 150, 200, 217, 300]
AT_25 = {0: 0, 40: 33, 80: 67, 120: 67, 160: 150, 200: 200, 240: 217, 280: 217, 320: 300}
"""A variable frame rate brought to 25 a second: worked out from the rule `the last frame with pts <= t`."""


@dataclass(frozen=True)
class Due:
    at: Fraction


def an_order(delay, **wishes):
    return RenderOrder(Path("clip"), (64, 48), Fraction(delay), **wishes)


def test_the_last_picture_not_later_is_shown():
    """The table of a variable rate, exactly; a time before the first picture shows the first."""
    chosen = choose([each * MS for each in VARIABLE], [each * MS for each in (-5, *AT_25)])
    assert [VARIABLE[index] for index in chosen] == [0, *AT_25.values()]


def test_pictures_that_come_one_by_one_are_picked_alike():
    """`pick` holds no more than two pictures and gives what `choose` gives."""
    picked = pick((Due(each * MS) for each in VARIABLE), (each * MS for each in AT_25))
    assert [each.at / MS for each in picked] == list(AT_25.values())


@given(
    st.lists(st.integers(0, 400), min_size=1, unique=True).map(sorted),
    st.lists(st.integers(0, 500)).map(sorted),
)
def test_choosing_equals_the_definition(shown_at, wanted):
    """Against the definition written out, for any times."""
    chosen = choose(shown_at, wanted)
    assert chosen == [max([i for i, at in enumerate(shown_at) if at <= t], default=0) for t in wanted]
    assert [each.at for each in pick([Due(at) for at in shown_at], wanted)] == [shown_at[i] for i in chosen]


@pytest.mark.parametrize(
    ("seconds", "delay", "count", "length"),
    [
        (5, Fraction(35, 1000), 143, Fraction(5005, 1000)),
        (5, Fraction(40, 1000), 125, Fraction(5)),
        (Fraction(1001, 1000), Fraction(1001, 30000), 30, Fraction(1001, 1000)),
        (1001, Fraction(1001, 30000), 30000, Fraction(1001)),
        (Fraction(1, 1000), Fraction(1), 1, Fraction(1)),
    ],
)
def test_frames_cover_the_length(seconds, delay, count, length):
    """35 ms: 5 s are 143 frames and 5.005 s; 30,000 frames at 30000/1001 are exactly 1,001 s."""
    assert count_frames(Fraction(seconds), delay) == count
    assert count * delay == length


def test_a_delay_of_35_ms_asks_at_multiples_of_35_ms():
    """Every time is the index times the delay, to the end, with no rounding on the way."""
    timeline = lay_out(an_order("35/1000"), Fraction(5))
    assert timeline.count == 143
    assert list(timeline.times) == [index * Fraction(35, 1000) for index in range(143)]


@pytest.mark.parametrize("delay", ["1001/30000", "35/1000", "1/25", "1/24", "41/1000", "67/1000"])
@pytest.mark.parametrize("seconds", ["1/3", "5", "12", "60"])
def test_sound_and_last_frame_end_within_one_delay(delay, seconds):
    """The frames never end before the clip, and never a whole delay after it."""
    length = lay_out(an_order(delay), Fraction(seconds)).length
    assert 0 <= length - Fraction(seconds) < Fraction(delay)


def test_whole_milliseconds_never_drift():
    """33 34 33 33 34 33 …: 12 frames at 30 sum to 400 ms, 30,000 at 30000/1001 to exactly 1,001,000 ms."""
    assert whole_delays(Fraction(30), 12) == [33, 34, 33, 33, 34, 33, 33, 34, 33, 33, 34, 33]
    assert sum(whole_delays(Fraction(30), 12)) == 400
    assert sum(whole_delays(Fraction(30000, 1001), 30000)) == 1_001_000


def test_trim_speed_and_holds():
    """Holds repeat the first and last picture; what is between runs at the speed asked for."""
    order = an_order(
        "1/10", start=Fraction(1), length=Fraction(1), speed=Fraction(2), hold_start=Fraction("0.2"),
        hold_end=Fraction("0.3"),
    )  # fmt: skip
    times = lay_out(order, Fraction(10)).times
    assert [float(each) for each in times] == [1, 1, 1, 1.2, 1.4, 1.6, 1.8, 1.8, 1.8, 1.8]


@pytest.mark.parametrize(
    ("wish", "says"),
    [
        ({"start": Fraction(5)}, "nothing to show from 5 s on: the clip lasts 5 s"),
        ({"delay": Fraction(1, 100_000)}, "500,000 frames; 20,000 is the most"),
    ],
)
def test_orders_that_give_nothing_or_too_much(wish, says):
    """Each is one sentence with what to do next."""
    with pytest.raises(MediaError, match=says):
        lay_out(replace(an_order("1/25"), **wish), Fraction(5))

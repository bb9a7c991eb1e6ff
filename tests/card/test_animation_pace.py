"""Paces: what settings can say, and the delay between two frames that comes of it."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.animation_pace import (
    Pace,
    decimals_of,
    nearest_pace,
    read_number,
    read_pace,
    write_number,
)
from workbench.card.animation_rule import AnimationRule
from workbench.card.profile_reader import parse_profile

HEAD = """\
schema = 1
name = "Any"
[panel]
width = 32
height = 24
[volumes.main]
identify = ["here/"]
[animation]
folder = "main:{name}"
frames = { pattern = "{n}.png" }
"""


def rule_of(settings: str = "", rest: str = "") -> AnimationRule:
    line = f'settings = {{ file = "main:{{name}}/s", format = "toml", {settings} }}\n' if settings else ""
    rule = parse_profile((HEAD + line + rest).encode(), Path("any.toml")).animation
    assert rule is not None
    return rule


@pytest.mark.parametrize(
    ("unit", "draw", "wanted_ms", "value", "delay_ms"),
    [
        ("ms", 0, "35", "35", "35"),
        ("ms", 0, "33.366", "33", "33"),  # 30000/1001 frames a second
        ("ms", 4, "35", "31", "35"),
        ("ms", 40, "35", "1", "41"),  # it draws for longer than was asked for
        ("us", 0, "33.3666", "33367", "33.367"),
        ("s", 0, "35", "0.035", "35"),
        ("fps", 0, "40", "25", "40"),
        ("fps", 4, "44", "25", "44"),
        ("fps", 6, "46", "25", "46"),
        ("fps", 0, "36", "28", None),  # 1/28 s is 35.7 ms, 1/27 s is 37.0 ms
        ("fps", 50, "35", "1000", "51"),
    ],
)
def test_the_nearest_pace_is_one_that_the_settings_can_say(
    unit: str, draw: int, wanted_ms: str, value: str, delay_ms: str | None
) -> None:
    """The number is as exact as the unit allows, and the time that the device draws is counted in."""
    rule = rule_of(f'delay = "/d", unit = "{unit}"', f"draw_ms = {draw}\n")
    pace = nearest_pace(rule, Fraction(wanted_ms) / 1000)
    assert pace.text == value
    if delay_ms is not None:
        assert pace.delay == Fraction(delay_ms) / 1000


def test_decimals_of_the_profile_or_of_other_animations_are_used() -> None:
    """A device that takes 12.5 is not held to whole frames a second."""
    coarse, fine = rule_of('rate = "/r"'), rule_of('rate = "/r", decimals = 2')
    assert nearest_pace(coarse, Fraction(8, 100)).text in ("12", "13")
    assert nearest_pace(coarse, Fraction(8, 100), decimals=1).text == "12.5"
    assert nearest_pace(fine, Fraction(1001, 30000)).text == "29.97"


def test_a_device_without_settings_has_one_pace() -> None:
    """Whatever is wished, it shows a frame as long as the profile says, and draws besides."""
    rule = rule_of("", "delay_ms = 50\ndraw_ms = 2\n")
    assert nearest_pace(rule, Fraction(1, 30)).delay == Fraction(52, 1000)


@given(
    wanted=st.fractions(Fraction(1, 500), Fraction(2)),
    unit=st.sampled_from(["us", "ms", "s", "fps"]),
    draw=st.integers(0, 20),
)
def test_no_other_pace_is_nearer(wanted: Fraction, unit: str, draw: int) -> None:
    """One step more or less in the settings is never nearer to what was asked for."""
    rule = rule_of(f'delay = "/d", unit = "{unit}"', f"draw_ms = {draw}\n")
    best = nearest_pace(rule, wanted)
    step = Fraction(1, 1000) if unit == "s" else Fraction(1)
    for value in (best.value - step, best.value + step):
        if 0 < value <= 1000 or (value > 0 and unit != "fps"):
            other = Pace(value, best.unit, best.draw)
            assert abs(best.delay - wanted) <= abs(other.delay - wanted)
    assert read_pace(rule, best.text) == best


@pytest.mark.parametrize(
    ("value", "number"),
    [(35, "35"), (12.5, "12.5"), (" 40 ", "40"), ("0.035", "0.035"), (1e-05, "0.00001"), (0, "0")],
)
def test_numbers_are_read_from_any_value(value: object, number: str) -> None:
    """Numbers, and texts that are numbers, exactly."""
    assert read_number(value) == Fraction(number)


@pytest.mark.parametrize(
    "value", ["", "x", "-1", -1, True, None, "1e3", "0x10", "1,5", [], "9" * 99, float("nan")]
)
def test_what_is_no_number_is_none(value: object) -> None:
    """Nothing is guessed."""
    assert read_number(value) is None


@pytest.mark.parametrize(
    ("value", "text"), [("35", "35"), ("12.50", "12.5"), ("0.001", "0.001"), ("100", "100")]
)
def test_numbers_are_written_shortest(value: str, text: str) -> None:
    """No zeros that say nothing."""
    assert write_number(Fraction(value)) == text
    assert decimals_of(Fraction(value)) == len(text.partition(".")[2])

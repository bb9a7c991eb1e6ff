"""Amounts as a person types them."""

from __future__ import annotations

from fractions import Fraction

import pytest

from workbench.errors import UsageError
from workbench.jobs.amounts import (
    read_crop,
    read_delay,
    read_number,
    read_size,
    read_time,
    read_times,
    read_whole,
)


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("2.5", "2.5"), ("2.5s", "2.5"), (".5", "0.5"), ("1:30", "90"), ("0:01:30.25", "90.25"), ("90", "90")],
)
def test_times(text: str, seconds: str) -> None:
    """Seconds, minutes and seconds, hours too; exactly."""
    assert read_time(text, "--start") == Fraction(seconds)


@pytest.mark.parametrize("text", ["", "x", "-1", "1:2:3:4", "1e3", "9" * 50, "1,5"])
def test_what_is_no_time_is_refused_with_its_option(text: str) -> None:
    """In one sentence."""
    with pytest.raises(UsageError, match="--start takes a time"):
        read_time(text, "--start")


def test_two_times_with_a_comma() -> None:
    """One for both ends, or one each; an empty one is none."""
    assert read_times("1", "--hold") == (1, 1)
    assert read_times("1,2.5", "--hold") == (1, Fraction(5, 2))
    assert read_times(",2", "--hold") == (0, 2)
    with pytest.raises(UsageError):
        read_times("1,2,3", "--hold")


def test_numbers_sizes_and_parts() -> None:
    """Fractions stay exact."""
    assert read_number("30000/1001", "--rate") == Fraction(30000, 1001)
    assert read_size("640x480", "--size") == read_size("640×480", "--size") == (640, 480)
    assert read_crop("1,2,30,40", "--crop") == (1, 2, 30, 40)
    assert read_delay("35", None) == Fraction(35, 1000) and read_delay(None, "25") == Fraction(1, 25)
    assert read_delay(None, None) is None


@pytest.mark.parametrize(
    ("read", "text"),
    [
        (lambda text: read_number(text, "--speed", least=Fraction(0)), "0"),
        (lambda text: read_number(text, "--speed"), "1/0"),
        (lambda text: read_size(text, "--size"), "640"),
        (lambda text: read_size(text, "--size"), "0x10"),
        (lambda text: read_crop(text, "--crop"), "1,2,3"),
        (lambda text: read_crop(text, "--crop"), "0,0,0,5"),
        (lambda text: read_whole(text, "--loops", 0, 9), "10"),
        (lambda text: read_delay(text, "30"), "35"),
    ],
)
def test_what_is_none_is_refused(read, text) -> None:
    """Each with what it takes."""
    with pytest.raises(UsageError):
        read(text)

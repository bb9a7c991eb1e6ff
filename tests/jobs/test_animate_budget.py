"""Budgets and remedies: what is given up, and that it helped."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from motion_cards import Motion, lay_out

from workbench.errors import MediaError, UsageError
from workbench.jobs.animate import REMEDIES, Budget, parse_budget


@pytest.fixture
def motion(tmp_path: Path) -> Motion:
    return lay_out("listed", tmp_path)


@pytest.mark.parametrize(
    ("text", "budget"),
    [
        ("8MB", Budget(bytes=8_000_000)),
        ("512 KiB", Budget(bytes=524_288)),
        ("1.5mb", Budget(bytes=1_500_000)),
        ("6s", Budget(seconds=Fraction(6))),
        ("2MB, 2.5 s", Budget(bytes=2_000_000, seconds=Fraction(5, 2))),
    ],
)
def test_budgets_are_read(text: str, budget: Budget) -> None:
    """Room as cards are sold, or in binary multiples; time in seconds; both."""
    assert parse_budget(text) == budget


@pytest.mark.parametrize("text", ["", "8", "MB", "0MB", "8TB", "6 minutes", "-1s", "1s2s"])
def test_what_is_no_budget_is_refused(text: str) -> None:
    """With what one looks like."""
    with pytest.raises(UsageError, match="such as 8MB or 6s"):
        parse_budget(text)


@pytest.mark.parametrize(("share", "unit"), [(0.9, 512), (0.2, 512), (0.5, 16384), (0.2, 16384)])
def test_a_budget_of_bytes_is_kept(motion: Motion, share: float, unit: int) -> None:
    """Whatever it takes, and what it took is said; the device's settings can say the pace."""
    source = motion.clip(duration=0.6, noise=True)
    full = motion.plan(source, unit=unit).report
    most = int(full.bytes * share)
    report = motion.plan(source, unit=unit, budget=Budget(bytes=most)).report
    assert report.bytes <= most
    assert report.traded
    assert report.pace.value.denominator == 1


def test_rate_goes_before_colours_and_colours_before_length(motion: Motion) -> None:
    """The least that is seen is given up first."""
    source = motion.clip(duration=0.6, noise=True, sound=False)
    full = motion.plan(source, unit=512).report.bytes
    said = [
        " ".join(motion.plan(source, unit=512, budget=Budget(bytes=int(full * share))).report.traded)
        for share in (0.8, 0.35, 0.1)
    ]
    assert "frames a second" in said[0] and "colours" not in said[0]
    assert "colours" in said[1] and "cut" not in said[1]
    assert "colours" in said[2] and "cut" in said[2]


def test_what_fits_is_left_as_it_is(motion: Motion) -> None:
    """No render more than the one."""
    planned = motion.plan(motion.clip(duration=0.3), budget=Budget(bytes=10**9, seconds=Fraction(9)))
    assert planned.report.traded == () and len(motion.render.orders) == 1


def test_a_budget_of_seconds_cuts_the_end(motion: Motion) -> None:
    """Holds are kept, and how fast it would have to run to fit whole is said."""
    source = motion.clip(duration=2.0)
    report = motion.plan(source, hold_end=Fraction(1, 5), budget=Budget(seconds=Fraction(1))).report
    assert report.startup <= 1 and report.frames == 28
    assert "as fast" in report.traded[0]
    assert motion.render.orders[-1].hold_end == Fraction(1, 5)


def test_nothing_fits_nothing(motion: Motion) -> None:
    """One sentence."""
    with pytest.raises(MediaError, match="not even a moment"):
        motion.plan(motion.clip(duration=0.5, noise=True), budget=Budget(bytes=3000))


@pytest.mark.parametrize("remedy", REMEDIES)
def test_a_remedy_is_checked_again(motion: Motion, remedy: str) -> None:
    """It passes afterwards, and what was done is said."""
    source = motion.clip(duration=2.0, flash=9)
    failing = motion.plan(source).report
    assert not failing.flash.passes and failing.remedies == REMEDIES
    assert "FAILS in the second that begins at 0.50 s" in "\n".join(failing.lines())
    if remedy == "shortened":  # the stand-in's verdict does not hear of a cut
        with pytest.raises(MediaError, match="shortened does not make the flashing pass"):
            motion.plan(source, remedy=remedy)
        return
    report = motion.plan(source, remedy=remedy).report
    assert report.flash.passes and len(report.traded) == 1


def test_a_remedy_and_a_budget_go_together(motion: Motion) -> None:
    """Shown slower it is longer, and must fit all the same."""
    source = motion.clip(duration=1.0, flash=9)
    report = motion.plan(source, remedy="slower", budget=Budget(seconds=Fraction(1))).report
    assert report.flash.passes and report.startup <= 1 and len(report.traded) == 2

"""The clips that come along can be made into boot animations without any extra package."""

from __future__ import annotations

from fractions import Fraction

import pytest
from practice_cards import FIXTURES

CLIPS = FIXTURES / "clips"


@pytest.mark.parametrize(
    ("name", "kind", "seconds", "passes"),
    [
        ("sunrise.gif", "animated", Fraction(278, 100), True),
        ("beacon.png", "animated", Fraction(144, 100), True),
        ("strobe.gif", "animated", Fraction(72, 100), False),
        ("tide", "pictures", Fraction(8, 25), True),
    ],
)
def test_each_renders_and_has_the_verdict_it_is_there_for(name, kind, seconds, passes, render):
    """Length by its own durations; one of them flashes too much on purpose."""
    report, folder = render(CLIPS / name)
    assert (report.facts.kind, report.facts.duration) == (kind, seconds)
    assert report.flash.passes is passes
    assert len(list(folder.iterdir())) == report.count


def test_the_chime_goes_with_a_silent_clip(render):
    """A sound of its own beside an animated picture; a WAV needs no extra package either."""
    from workbench.media.render_order import SoundFormat

    report, folder = render(
        CLIPS / "sunrise.gif", audio=SoundFormat("wav", 8000, 1), sound=CLIPS / "chime.wav"
    )
    assert (folder / report.sound.name).stat().st_size == pytest.approx(
        2 * 8000 * float(report.length), abs=64
    )

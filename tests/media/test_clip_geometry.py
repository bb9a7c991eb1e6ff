"""Where a clip's picture lies on the panel: crop, square pixels, fit, turn."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import MediaError
from workbench.media.clip_geometry import place, shown_size
from workbench.media.render_order import RenderOrder

SIDES = st.integers(1, 4000)


def an_order(panel, **wishes):
    return RenderOrder(Path("clip"), panel, Fraction(1, 25), **wishes)


@pytest.mark.parametrize(
    ("size", "aspect", "panel", "fit", "cut", "scaled", "at"),
    [
        ((1280, 720), 1, (640, 480), "contain", (0, 0, 1280, 720), (640, 360), (0, 60)),
        ((1280, 720), 1, (640, 480), "cover", (160, 0, 960, 720), (640, 480), (0, 0)),
        ((1280, 720), 1, (640, 480), "stretch", (0, 0, 1280, 720), (640, 480), (0, 0)),
        ((854, 480), 1, (640, 480), "contain", (0, 0, 854, 480), (640, 360), (0, 60)),
        ((161, 97), 1, (320, 240), "contain", (0, 0, 161, 97), (320, 193), (0, 23)),
        ((720, 576), Fraction(16, 15), (640, 480), "contain", (0, 0, 720, 576), (640, 480), (0, 0)),
        ((160, 96), Fraction(4, 3), (320, 240), "contain", (0, 0, 160, 96), (320, 144), (0, 48)),
        ((480, 800), 1, (512, 384), "contain", (0, 0, 480, 800), (230, 384), (141, 0)),
    ],
)
def test_fits(size, aspect, panel, fit, cut, scaled, at):
    """Worked out by hand from the shapes."""
    placement = place(size, Fraction(aspect), an_order(panel, fit=fit))
    assert (placement.cut, placement.scaled, placement.at) == (cut, scaled, at)


@given(SIDES, SIDES, SIDES, SIDES, st.sampled_from(["contain", "cover", "stretch"]))
def test_nothing_lies_outside(width, height, across, down, fit):
    """The cut lies in the picture, the scaled part on the panel; all but contain fill it."""
    placement = place((width, height), Fraction(1), an_order((across, down), fit=fit))
    x, y, wide, high = placement.cut
    assert min(x, y) >= 0 and 0 < wide <= width - x and 0 < high <= height - y
    left, top = placement.at
    assert 0 <= left <= across - placement.scaled[0] and 0 <= top <= down - placement.scaled[1]
    assert placement.fills or fit == "contain"
    assert placement.scaled[0] == across or placement.scaled[1] == down


def test_a_crop_is_in_pixels_as_they_are_shown():
    """Of pixels twice as wide as high, 40 shown ones are 20 stored ones."""
    placement = place((100, 100), Fraction(2), an_order((64, 48), crop=(20, 10, 40, 30), fit="stretch"))
    assert placement.cut == (10, 10, 20, 30)


@pytest.mark.parametrize("crop", [(-1, 0, 10, 10), (0, 0, 101, 10), (0, 0, 0, 5), (95, 0, 10, 10)])
def test_a_crop_outside_is_refused(crop):
    """With the size that the clip shows."""
    with pytest.raises(MediaError, match="shows 100×50 pixels"):
        place((100, 50), Fraction(1), an_order((64, 48), crop=crop))


def test_sizes_as_shown():
    """PAL's 720×576 at 16:15 is shown 768 wide (ITU-R BT.601 pixels as players round them)."""
    assert shown_size((720, 576), Fraction(16, 15)) == (768, 576)

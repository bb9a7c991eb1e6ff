"""Render orders and reports travel as JSON and come back equal; anything else is refused."""

from __future__ import annotations

import json
from fractions import Fraction
from pathlib import Path

import pytest

from workbench.errors import MediaError
from workbench.media.clip_facts import ClipFacts
from workbench.media.flash_verdict import FlashVerdict
from workbench.media.plain_values import from_json, to_json
from workbench.media.render_order import FrameFormat, RenderOrder, SoundFormat
from workbench.media.render_report import RenderedFile, RenderReport

PLAIN = RenderOrder(Path("clip.mp4"), (512, 384), Fraction(1, 25))
FULL = RenderOrder(
    Path("d/ü \n.webm"),
    (480, 800),
    Fraction(1001, 30000),
    FrameFormat("bmp", 16, "565", "top-down", 64, "diffuse", 80, "f{n}.bmp", 1, 4),
    SoundFormat("wav", 22050, 1, Fraction(-23), Fraction(-3, 2)),
    sound=Path("s.mp3"),
    length=Fraction(7, 3),
    crop=(1, 2, 30, 40),
    fit="cover",
    rotate=270,
    still=3,
)
REPORT = RenderReport(
    (RenderedFile("0.png", 12, "ab"), RenderedFile("1.png", 13, "cd")),
    None,
    RenderedFile("still.png", 5, "ef"),
    ClipFacts("video", 4, 3, None, Fraction(5, 3), Fraction(30000, 1001), hdr="PQ", sound=(48000, 2)),
    2,
    Fraction(2, 25),
    -33.0,
    1.5,
    FlashVerdict(False, Fraction(1, 2), 4, 0, 8, 0, ("general", "strict")),
    loudness=-16.5,
)


@pytest.mark.parametrize("value", [PLAIN, FULL, REPORT])
def test_a_value_comes_back_equal(value):
    """Fractions stay exact, nothing stands for None, tuples are tuples again."""
    assert from_json(type(value), to_json(value)) == value


@pytest.mark.parametrize(
    ("field", "wrong"),
    [("delay", "1/0"), ("delay", 3), ("fit", "fill"), ("panel", [1, 2, 3]), ("panel", [1, "2"]), ("new", 1)],
)
def test_what_is_no_order_is_refused(field, wrong):
    """A value of another kind, an unknown word, or a field that there is none of."""
    plain = json.loads(to_json(PLAIN)) | {field: wrong}
    with pytest.raises(MediaError, match="no RenderOrder"):
        from_json(RenderOrder, json.dumps(plain).encode())


@pytest.mark.parametrize(
    ("format_", "index", "name"),
    [(FrameFormat(), 0, "0.png"), (FrameFormat(pattern="p-{n}.bmp", first=1, pad=4), 9, "p-0010.bmp")],
)
def test_frame_names(format_, index, name):
    """A number is counted from the device's first and padded as it wants."""
    assert format_.name_of(index) == name

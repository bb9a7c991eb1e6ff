"""Numpy and Pillow alone come to the same verdict, whatever the frames and the panel."""

from __future__ import annotations

import random
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image

from workbench.media.flash_cells import cell_size, open_cells
from workbench.media.flashes import FlashAnalyser

pytest.importorskip("numpy", reason="numpy comes with the extra `clip`")


def noise(size, seed, scale=1):
    return Image.frombytes(
        "RGB",
        (size[0] // scale, size[1] // scale),
        random.Random(seed).randbytes(3 * (size[0] // scale) * (size[1] // scale)),
    ).resize(size, Image.Resampling.NEAREST)


def examine(frames, size, *, plain, loops, as_bytes):
    analyser = FlashAnalyser(*size, plain=plain, loops=loops)
    for index, frame in enumerate(frames):
        analyser.feed(frame.tobytes() if as_bytes else frame, Fraction(index, 12))
    return analyser.finish()


@pytest.mark.parametrize("size", [(640, 480), (320, 240), (480, 800), (854, 480), (1280, 720), (31, 7)])
def test_cells_are_averaged_alike(size):
    """Each cell is the rounded average of its pixels, also at edges that no whole cell fits to."""
    frame = noise(size, 5)
    arrays = open_cells(*size).reduce(frame.tobytes())
    images = open_cells(*size, plain=True).reduce(frame)
    side = cell_size(*size)
    assert [plane.tobytes() for plane in arrays] == [plane.tobytes() for plane in images]
    box = frame.crop((0, 0, side, side))
    mean = sum(box.getchannel(0).tobytes()) / side**2
    assert abs(arrays[0][0] - mean) <= 0.51


COLOURS = st.tuples(*[st.sampled_from([0, 40, 89, 128, 136, 200, 255])] * 3)


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.tuples(COLOURS, COLOURS, st.integers(0, 32)), min_size=2, max_size=16),
    st.booleans(),
    st.booleans(),
)
def test_both_come_to_the_same_verdict(shown, loops, as_bytes):
    """Any colours on two parts of the panel, fed as pictures or as bytes."""
    frames = []
    for one, other, edge in shown:
        frame = Image.new("RGB", (32, 24), one)
        frame.paste(other, (0, 0, edge, 24))
        frames.append(frame)
    arrays = examine(frames, (32, 24), plain=False, loops=loops, as_bytes=as_bytes)
    images = examine(frames, (32, 24), plain=True, loops=loops, as_bytes=as_bytes)
    assert arrays == images


@pytest.mark.parametrize("scale", [1, 4, 16])
def test_both_see_the_same_in_noise(scale):
    """Random pixels on a full panel."""
    frames = [noise((640, 480), seed, scale) for seed in range(8)]
    verdicts = [
        examine(frames, (640, 480), plain=plain, loops=True, as_bytes=True) for plain in (False, True)
    ]
    assert verdicts[0] == verdicts[1]

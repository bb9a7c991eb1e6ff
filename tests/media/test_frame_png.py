"""Frames are packed fast, and any reader finds the same pixels in them."""

from __future__ import annotations

import io
import struct
import sys
import zlib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image, ImageDraw

from workbench.media import frame_png
from workbench.media.frame_pixels import Pixels
from workbench.media.frame_png import PngFrames, _Predictor, find_packer

numpy = pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")


def noise(size, seed=0):
    generator = numpy.random.default_rng(seed)
    return Pixels.of_rows(generator.integers(0, 256, (size[1], size[0] * 3), numpy.uint8))


def drawing(size):
    image = Image.new("RGB", size, (20, 30, 40))
    ImageDraw.Draw(image).ellipse((3, 3, size[0] - 5, size[1] - 5), (200, 10, 60), (255, 255, 0))
    return Pixels.of_image(image)


def read(content):
    return numpy.asarray(Image.open(io.BytesIO(content)).convert("RGB"))


@pytest.mark.parametrize("size", [(1, 1), (3, 2), (64, 48), (65, 33), (640, 480)])
@pytest.mark.parametrize("make", [noise, lambda size: drawing((max(size[0], 9), max(size[1], 9)))])
def test_what_was_packed_is_read_back_by_pillow(make, size):
    """Pixel for pixel, for frames that pack badly and for such as pack to nothing."""
    pixels = make(size)
    assert (read(PngFrames().encode(pixels)) == pixels.rows.reshape(pixels.size[1], pixels.size[0], 3)).all()


@pytest.mark.parametrize("kind", [1, 2, 4])
@given(st.integers(1, 9), st.integers(1, 70), st.integers(0, 3))
@settings(max_examples=15, deadline=None)
def test_every_filter_is_undone_by_its_definition(kind, width, height, seed):
    """Against the specification's formulas (PNG, section 9.2), written out byte by byte."""
    rows = noise((width, height), seed).rows
    stored = _Predictor(rows.shape).filtered(rows, kind)
    assert (stored[:, 0] == kind).all()
    for y, x in {(0, 0), (height - 1, 3 * width - 1), (height // 2, width), (height - 1, 0)}:
        left = int(rows[y, x - 3]) if x >= 3 else 0
        upper = int(rows[y - 1, x]) if y else 0
        corner = int(rows[y - 1, x - 3]) if y and x >= 3 else 0
        guess = {1: left, 2: upper, 4: _nearest(left, upper, corner)}[kind]
        assert stored[y, x + 1] == (int(rows[y, x]) - guess) % 256


def _nearest(left, upper, corner):
    base = left + upper - corner
    return min((left, upper, corner), key=lambda each: abs(base - each))


def test_black_bars_are_packed_as_they_are():
    """Rows of nothing above, between and below what is there, by the filter that passes them over."""
    image = Image.new("RGB", (40, 200))
    image.paste((200, 100, 50), (3, 70, 30, 99))
    image.paste((1, 2, 3), (0, 170, 40, 180))
    rows = Pixels.of_image(image).rows
    stored = _Predictor(rows.shape).filtered(rows, 4).tobytes()
    header = struct.pack(">2I5B", 40, 200, 8, 2, 0, 0, 0)
    assert (read(frame_png.wrap_png(header, zlib.compress(stored))) == numpy.asarray(image)).all()


def test_a_strided_frame_is_packed_as_it_is():
    """Rows with room behind them, as libav lays them out."""
    wide = noise((40, 20)).rows
    pixels = Pixels.of_rows(wide[:, :90])
    assert (read(PngFrames().encode(pixels)) == wide[:, :90].reshape(20, 30, 3)).all()


@pytest.mark.parametrize("missing", [["isal", "isal.isal_zlib"], ["numpy"]])
def test_packages_that_are_missing(missing, monkeypatch):
    """The standard library and Pillow do the same work, to the same pixels."""
    pixels = drawing((64, 48))
    wanted = pixels.rows.reshape(48, 64, 3)
    fallback = Pixels.of_image(pixels.image)
    for name in missing:
        monkeypatch.setitem(sys.modules, name, None)
    content = PngFrames().encode(fallback)
    monkeypatch.undo()
    assert (read(content) == wanted).all()


@pytest.mark.parametrize(("make", "tried"), [(noise, (1, 2)), (drawing, (1, 2, 4))])
def test_the_filter_that_packs_best_is_kept(make, tried):
    """Paeth is tried on frames that pack to little, which are drawn ones; the best stays for those after."""
    pixels, frames = make((320, 240)), PngFrames()
    first = frames.encode(pixels)
    predictor = _Predictor(pixels.rows.shape)
    sizes = {kind: len(find_packer()(predictor.filtered(pixels.rows, kind))) for kind in tried}
    assert frames._filter == min(sizes, key=lambda kind: (sizes[kind], kind != 2))
    assert (min(sizes[1], sizes[2]) * frame_png._DRAWN < pixels.rows.size) == (4 in tried)
    assert frames.encode(pixels) == first

"""Full-colour PNG frames, packed fast: rows filtered by numpy, deflated by ISA-L (PNG specification, W3C).

A filter is kept for a stretch of frames. `Up` serves photographic pictures; drawn ones, which pack to almost
nothing, get `Paeth`, whose cost the quick packing of such frames leaves room for. What packs better is tried
out on a frame now and then. Without these packages the standard library and Pillow do the same work.
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from workbench.media.frame_pixels import Pixels

if TYPE_CHECKING:
    from workbench.media.frame_pixels import Rows

Packer = Callable[[Any], bytes]

_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_SUB, _UP, _PAETH = 1, 2, 4
"""Filter types (PNG specification, table 9.1)."""
_TRIED_EACH = 24
"""Frames after which the filters are compared again."""
_DRAWN = 12
"""A frame that packs to less than one in so many bytes is drawn, not photographed."""
_BLOCK = 32
"""Rows that are predicted at once: what is worked on stays in the processor's cache."""


class PngFrames:
    """Packs the frames of one animation; all of one size. Keeps its working memory from frame to frame."""

    def __init__(self) -> None:
        self._filter = _UP
        self._made = 0
        self._work: _Predictor | None = None

    def encode(self, pixels: Pixels) -> bytes:
        """One PNG file: eight bits, RGB."""
        try:
            import numpy  # noqa: F401
        except ImportError:
            return _encode_plain(pixels)
        rows = pixels.rows
        if self._work is None or self._work.shape != rows.shape:
            self._work = _Predictor(rows.shape)
            self._made = 0
        if self._made % _TRIED_EACH == 0:
            packed = self._try_out(rows)
        else:
            packed = find_packer()(self._work.filtered(rows, self._filter))
        self._made += 1
        width, height = pixels.size
        return wrap_png(struct.pack(">2I5B", width, height, 8, 2, 0, 0, 0), packed)

    def _try_out(self, rows: Rows) -> bytes:
        """Pack by each filter that may serve, and keep the best for the frames that follow."""
        assert self._work is not None
        pack = find_packer()
        tries = {kind: pack(self._work.filtered(rows, kind)) for kind in (_UP, _SUB)}
        if min(map(len, tries.values())) * _DRAWN < rows.size:
            tries[_PAETH] = pack(self._work.filtered(rows, _PAETH))
        self._filter = min(tries, key=lambda kind: len(tries[kind]))
        return tries[self._filter]


class _Predictor:
    """Rows to what PNG stores of them: a byte for the filter, then each byte less its prediction."""

    def __init__(self, shape: tuple[int, ...]) -> None:
        import numpy

        self.shape = shape
        height, width = shape
        self._out = numpy.empty((height, width + 1), numpy.uint8)
        self._above = numpy.zeros((_BLOCK + 1, width + 3), numpy.int16)
        self._parts = [numpy.empty((_BLOCK, width), numpy.int16) for _ in range(4)]
        self._masks = [numpy.empty((_BLOCK, width), bool) for _ in range(2)]

    def filtered(self, rows: Rows, kind: int) -> Rows:
        """The whole picture by one filter; valid until the next call."""
        import numpy

        out = self._out
        out[:, 0] = kind
        if kind == _UP:
            out[0, 1:] = rows[0]
            numpy.subtract(rows[1:], rows[:-1], out=out[1:, 1:])
        elif kind == _SUB:
            out[:, 1:4] = rows[:, :3]
            numpy.subtract(rows[:, 3:], rows[:, :-3], out=out[:, 4:])
        else:
            self._predict(rows)
        return out

    def _predict(self, rows: Rows) -> None:
        """Paeth's: of left, upper and upper left whichever is nearest to left + upper - upper left."""
        self._above[0] = 0
        for top in range(0, rows.shape[0], _BLOCK):
            block = rows[top : top + _BLOCK]
            out = self._out[top : top + len(block), 1:]
            if not block.any() and not self._above[0].any():
                out[:] = 0  # black bars, which are common, need no prediction
                continue
            self._predict_block(block, out)
            self._above[0] = self._above[len(block)]

    def _predict_block(self, block: Rows, out: Rows) -> None:
        import numpy as np

        count = len(block)
        near = self._above[: count + 1]
        near[1:, 3:] = block
        left, upper, corner = near[1:, :-3], near[:-1, 3:], near[:-1, :-3]
        a, b, c, guess = (part[:count] for part in self._parts)
        is_upper, is_left = (mask[:count] for mask in self._masks)
        np.subtract(upper, corner, out=a)
        np.subtract(left, corner, out=b)
        np.add(a, b, out=c)
        for part in (a, b, c):
            np.abs(part, out=part)
        np.less_equal(b, c, out=is_upper)
        np.minimum(b, c, out=c)
        np.less_equal(a, c, out=is_left)
        # Chosen by arithmetic, which costs a third of choosing by a mask.
        np.subtract(upper, corner, out=a)
        np.multiply(a, is_upper, out=a)
        np.add(a, corner, out=guess)
        np.subtract(left, guess, out=a)
        np.multiply(a, is_left, out=a)
        np.add(guess, a, out=guess)
        np.subtract(near[1:, 3:], guess, out=guess)
        np.copyto(out, guess, casting="unsafe")


def find_packer() -> Packer:
    """ISA-L at its first real level, or the standard library's where it is not installed."""
    try:
        from isal import isal_zlib
    except ImportError:
        return lambda content: zlib.compress(content, 2)
    return lambda content: isal_zlib.compress(content, 1)


def wrap_png(header: bytes, packed: bytes, palette: bytes = b"") -> bytes:
    """A whole file around packed rows."""
    parts = [_chunk(b"IHDR", header)]
    if palette:
        parts.append(_chunk(b"PLTE", palette))
    return b"".join([_SIGNATURE, *parts, _chunk(b"IDAT", packed), _chunk(b"IEND", b"")])


def _chunk(name: bytes, content: bytes) -> bytes:
    checksum = zlib.crc32(content, zlib.crc32(name))
    return b"".join((struct.pack(">I", len(content)), name, content, struct.pack(">I", checksum)))


def _encode_plain(pixels: Pixels) -> bytes:
    import io

    buffer = io.BytesIO()
    pixels.image.save(buffer, "PNG")
    return buffer.getvalue()

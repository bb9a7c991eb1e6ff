"""Makes finished frames into files, in a thread of its own beside the one that decodes.

Effects, the examination for flashes, encoding, hashing and writing happen here, frame by frame in order; a
frame that is the one before again costs a copy. No more than a few frames wait, so memory stays flat.
"""

from __future__ import annotations

import hashlib
import queue
import threading
from fractions import Fraction
from pathlib import Path
from typing import Protocol

from workbench.errors import MediaError
from workbench.media.fitting import turn_clockwise, turned_size
from workbench.media.flash_verdict import FlashVerdict
from workbench.media.flashes import FlashAnalyser
from workbench.media.frame_effects import Table, effect_table, level_at
from workbench.media.frame_encoding import FrameEncoder
from workbench.media.frame_pixels import Pixels
from workbench.media.frame_times import Timeline
from workbench.media.render_order import STILL_NAME, RenderOrder
from workbench.media.render_report import RenderedFile
from workbench.values import dataclass

_WAITING = 3
"""Frames between the two threads. With the one being drawn, the one being written and the one before it these
are fewer than `clip_scaling.IN_FLIGHT`."""
MAX_BYTES = 4 << 30
"""Of all frames of one render: no boot animation has a use for more."""


class Progress(Protocol):
    """Told after each frame."""

    def __call__(self, done: int, total: int) -> None: ...


@dataclass(frozen=True, slots=True, eq=False)
class _Made:
    """The frame before: from which picture by which effects, and what became of it."""

    source: Pixels
    table: Table | None
    pixels: Pixels
    content: bytes
    hashed: str


class FrameWriter:
    """Takes frames in order; `finish` waits for the last and tells what was made."""

    def __init__(self, order: RenderOrder, timeline: Timeline, folder: Path, progress: Progress) -> None:
        size = turned_size(order.panel, order.rotate)
        self._order = order
        self._timeline = timeline
        self._folder = folder
        self._progress = progress
        self._encoder = FrameEncoder(order.frames, size)
        self._flashes = FlashAnalyser(*size, loops=order.loops)
        self._files: list[RenderedFile] = []
        self._still: RenderedFile | None = None
        self._bytes = 0
        self._last: _Made | None = None
        self._failed: BaseException | None = None
        self._queue: queue.Queue[Pixels | None] = queue.Queue(_WAITING)
        self._thread = threading.Thread(target=self._work, name="frames", daemon=True)
        self._thread.start()

    def put(self, pixels: Pixels) -> None:
        """The next frame.

        Raises:
            MediaError, OSError: what stopped an earlier one.
        """
        self._queue.put(pixels)
        if self._failed is not None:
            raise self._failed

    def finish(self) -> tuple[tuple[RenderedFile, ...], RenderedFile | None, FlashVerdict]:
        """All files, the still, the verdict."""
        self._queue.put(None)
        self._thread.join()
        if self._failed is not None:
            raise self._failed
        return (
            tuple(self._files),
            self._still,
            self._flashes.finish(Fraction(len(self._files)) * self._order.delay),
        )

    def _work(self) -> None:
        while (pixels := self._queue.get()) is not None:
            if self._failed is None:
                try:
                    self._write(pixels)
                except BaseException as error:
                    self._failed = error

    def _write(self, source: Pixels) -> None:
        index = len(self._files)
        table = effect_table(self._order, level_at(self._order, self._timeline, index))
        if self._last is None or self._last.source is not source or self._last.table != table:
            pixels = source if table is None else Pixels.of_image(source.image.point(table))
            content = self._encoder.encode(pixels)
            self._last = _Made(source, table, pixels, content, hashlib.sha256(content).hexdigest())
        made = self._last
        self._flashes.feed(made.pixels.held, index * self._order.delay)
        self._files.append(self._store(self._order.frames.name_of(index), made.content, made.hashed))
        if index == self._order.still:
            self._still = self._store_still(made.pixels)
        self._progress(len(self._files), self._timeline.count)

    def _store(self, name: str, content: bytes, hashed: str) -> RenderedFile:
        self._bytes += len(content)
        if self._bytes > MAX_BYTES:
            raise MediaError(
                f"the frames would take more than {MAX_BYTES >> 30} GiB. Nothing was made; choose a shorter "
                "length, a longer delay or fewer colours"
            )
        with open(self._folder / name, "wb") as file:
            file.write(content)
        return RenderedFile(name, len(content), hashed)

    def _store_still(self, pixels: Pixels) -> RenderedFile:
        from workbench.media.frame_png import PngFrames

        upright = Pixels.of_image(turn_clockwise(pixels.image, -self._order.rotate))
        content = PngFrames().encode(upright)
        return self._store(STILL_NAME, content, hashlib.sha256(content).hexdigest())

"""libav's filters between a decoded picture and a frame: fields joined, turned upright, cut, scaled.

Scaling is swscale's `bicubic+accurate_rnd`, from the decoded layout to RGB in one go: the same pixels as
 the ffmpeg command's `scale` and `pad` give.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import cycle
from typing import TYPE_CHECKING, Any, cast

from workbench.errors import MediaError
from workbench.media.clip_facts import ClipFacts
from workbench.media.clip_geometry import Placement, place
from workbench.media.fitting import turned_size
from workbench.media.frame_pixels import Pixels
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

if TYPE_CHECKING:
    from av import VideoFrame

    from workbench.media.frame_pixels import Rows

IN_FLIGHT = 8
"""Frames that are kept by anybody at once, at most; a frame is written over by the one that many later."""

_FLAGS = "bicubic+accurate_rnd"
_TURNS = {90: ["transpose=clock"], 180: ["hflip", "vflip"], 270: ["transpose=cclock"]}
"""Clockwise, by libavfilter."""


class ClipScaler:
    """Scales the pictures of one clip; its filters are set up anew where the pictures change their layout."""

    def __init__(self, order: RenderOrder, aspect: Fraction, facts: ClipFacts, upright: list[str]) -> None:
        """`upright`: the filters that undo how the pictures lie; `aspect`: a pixel's, once they are."""
        self._order = order
        self._upright = upright
        self._aspect = aspect
        self._facts = facts
        self._layout: tuple[Any, ...] | None = None

    def scale(self, frame: VideoFrame) -> Pixels:
        """The frame as the device stores it: on its background, turned for the panel."""
        layout = (frame.width, frame.height, frame.format.name, frame.colorspace, frame.color_range)
        if layout != self._layout:
            self._set_up(frame)
            self._layout = layout
        self._chain.source.push(frame)
        rows = _rows_of(self._chain.sink.pull(), self._channels)
        if self._facts.hdr is not None:
            from workbench.media.clip_tone import bring_down

            rows = bring_down(rows, self._facts.hdr)
        elif self._channels == 4:
            rows = _lay_on(rows, self._order.background)
        return Pixels.of_rows(self._frame_rows(rows))

    def _set_up(self, frame: VideoFrame) -> None:
        upright = turned_size((frame.width, frame.height), self._facts.rotation)
        self._placement = place(upright, self._aspect, self._order)
        is_clear = any(component.is_alpha for component in frame.format.components)
        self._channels = 4 if is_clear and self._facts.hdr is None else 3
        self._canvases = self._make_canvases()
        self._chain = chain(frame, self._filters(upright, self._placement))

    def _filters(self, upright: tuple[int, int], placement: Placement) -> list[str]:
        x, y, width, height = placement.cut
        wide, high = placement.scaled
        steps = list(self._upright)
        if (width, height) != upright:
            steps.append(f"crop={width}:{height}:{x}:{y}:exact=1")
        scale = f"scale={wide}:{high}:flags={_FLAGS}"
        if self._channels == 4:
            # Colours weighed by how much is seen of them, or the hidden ones would bleed into the edges.
            steps += ["format=gbrap", "premultiply=inplace=1", scale, "format=rgba"]
        else:
            steps += [scale, "format=rgb48le" if self._facts.hdr else "format=rgb24"]
        return steps + _TURNS.get(self._order.rotate, [])

    def _frame_rows(self, rows: Rows) -> Rows:
        """The scaled picture on its background, where it leaves some of it free."""
        if self._placement.fills:
            return rows
        x, y = _turned_corner(self._placement, self._order.rotate)
        canvas = next(self._canvases)
        canvas[y : y + rows.shape[0], 3 * x : 3 * x + rows.shape[1]] = rows
        return canvas

    def _make_canvases(self) -> Iterator[Rows]:
        """Panels of background, in turn: new memory for every frame would cost more than filling it."""
        import numpy

        across, down = turned_size(self._order.panel, self._order.rotate)
        canvases = []
        for _ in range(IN_FLIGHT):
            canvas = numpy.empty((down, across, 3), numpy.uint8)
            canvas[:] = self._order.background
            canvases.append(canvas.reshape(down, 3 * across))
        return cycle(canvases)


@dataclass(frozen=True, slots=True, eq=False)
class FilterChain:
    """Filters in a row. The graph has to live as long as its ends, which do not keep it alive themselves."""

    graph: Any
    source: Any
    sink: Any


def chain(frame: VideoFrame, filters: list[str], tick: Fraction | None = None) -> FilterChain:
    """A row of filters for pictures like that one.

    Raises:
        MediaError: libav cannot set them up.
    """
    import av
    from av.filter import Graph

    graph = Graph()
    graph.threads = 1
    try:
        source = last = graph.add(
            "buffer",
            video_size=f"{frame.width}x{frame.height}",
            pix_fmt=frame.format.name,
            time_base=str(tick or frame.time_base or Fraction(1, 1000)),
            pixel_aspect="1/1",
            colorspace=str(int(frame.colorspace)),
            range=str(int(frame.color_range)),
        )
        for step in [*filters, "buffersink"]:
            name, _, words = step.partition("=")
            added = graph.add(name, words or None)
            last.link_to(added)
            last = added
        graph.configure()
    except (av.FFmpegError, ValueError) as error:
        raise MediaError(f"its pictures ({frame.format.name}) cannot be scaled here ({error})") from error
    return FilterChain(graph, source, last)


def join_fields(frames: Iterator[VideoFrame], tick: Fraction) -> Iterator[VideoFrame]:
    """Whole pictures from interlaced ones, one for each; those that are whole stay as they are."""
    import av

    row: FilterChain | None = None
    ended = (av.BlockingIOError, av.error.EOFError)
    for frame in frames:
        if row is None:
            row = chain(frame, ["bwdif=mode=send_frame:deint=interlaced"], tick)
        row.source.push(frame)
        yield from _pull_all(row.sink, ended)
    if row is not None:
        row.source.push(None)
        yield from _pull_all(row.sink, ended)


def _pull_all(sink: Any, ended: tuple[type[BaseException], ...]) -> Iterator[VideoFrame]:
    while True:
        try:
            frame = sink.pull()
        except ended:
            return
        yield frame


def _rows_of(frame: VideoFrame, channels: int) -> Rows:
    """The frame's own memory as rows, without a copy; it lives as long as they do."""
    import numpy

    plane = frame.planes[0]
    kind = numpy.dtype("<u2") if frame.format.name.startswith("rgb48") else numpy.dtype(numpy.uint8)
    stride = plane.line_size // kind.itemsize
    whole = numpy.frombuffer(memoryview(plane), kind).reshape(frame.height, stride)
    return cast("Rows", whole[:, : channels * frame.width])


def _lay_on(rows: Rows, background: tuple[int, int, int]) -> Rows:
    """Colours that were weighed by their alpha, on the background."""
    import numpy

    clear = rows.reshape(rows.shape[0], -1, 4)
    rest = 255 - clear[:, :, 3:].astype(numpy.uint16)
    ground = (rest * numpy.array(background, numpy.uint16) + 127) // 255
    solid: Rows = numpy.minimum(clear[:, :, :3] + ground, 255).astype(numpy.uint8)
    return solid.reshape(rows.shape[0], -1)


def _turned_corner(placement: Placement, turn: int) -> tuple[int, int]:
    """The upper left corner of the scaled picture after the panel's turn."""
    (x, y), (wide, high), (across, down) = placement.at, placement.scaled, placement.panel
    right, below = across - x - wide, down - y - high
    return {0: (x, y), 90: (below, x), 180: (right, below), 270: (y, right)}[turn]

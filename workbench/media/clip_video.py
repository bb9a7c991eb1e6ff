"""A video, read by libav: which pictures it holds, when each is due, and what its metadata asks for.

Needs the extra `clip`. Times are its own (presentation timestamp × time base), never counted; a picture
whose time cannot be is left out. What decodes badly is passed over and told.
"""

from __future__ import annotations

import errno
import struct
from collections.abc import Generator, Iterator
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from workbench.errors import MediaError
from workbench.media.clip_facts import ClipFacts
from workbench.media.clip_geometry import shown_size
from workbench.media.frame_pixels import Pixels
from workbench.media.limits import check_pixels
from workbench.media.render_order import RenderOrder
from workbench.values import dataclass

if TYPE_CHECKING:
    from av import Packet, VideoFrame
    from av.container import InputContainer

    from workbench.media.clip_scaling import ClipScaler

_LEFT_OUT = {"hls", "dash", "concat", "sdp", "rtsp", "applehttp", "imf", "lavfi", "image2", "v4l2", "fbdev"}
"""Readers of lists that lead elsewhere, to other files or machines; a clip is one file."""

_HDR: dict[int, Literal["PQ", "HLG"]] = {16: "PQ", 18: "HLG"}
"""Transfer characteristics by ITU-T H.273, table 3."""

_SEEK_FROM = Fraction(2)
"""A start earlier than this is reached by decoding; a jump costs as much."""


@dataclass(frozen=True, slots=True)
class _Frame:
    """One decoded picture of the video."""

    at: Fraction
    frame: VideoFrame
    scaler: ClipScaler

    def draw(self) -> Pixels:
        return self.scaler.scale(self.frame)


class VideoClip:
    """One file, one stream of pictures: the best by libav's own choice that is no cover picture."""

    def __init__(self, path: Path, order: RenderOrder) -> None:
        from workbench.media.clip_scaling import ClipScaler

        self._path = path
        self._order = order
        self._damaged = 0
        self._broken_off: Fraction | None = None
        with _reading(self._open()) as container:
            stream = self._find_stream(container)
            self._tick = Fraction(stream.time_base)
            rate = stream.average_rate or stream.guessed_rate
            self._each = 1 / Fraction(rate) if rate else Fraction(1, 25)
            first = next(self._decode(container), None)
            if first is None:
                raise MediaError("no picture in it could be decoded")
            self.origin = self._time_of(first) or Fraction(0)
            self._due, self._end = self._scan()
            self._turn, self._upright = set_upright(first)
            self.facts = self._read_facts(container, stream, first)
        self._interlaced = self.facts.interlaced
        self._scaler = ClipScaler(order, self._aspect, self.facts, self._upright)
        # Matroska and some others write whole milliseconds, rounded to the nearest.
        self.slack = self._tick / 2 if self._tick <= Fraction(1, 1000) else Fraction(0)

    def find_end(self) -> Fraction:
        return self._end

    def count_pictures(self, start: Fraction, stop: Fraction) -> int:
        from bisect import bisect_left

        return bisect_left(self._due, stop / self._tick) - bisect_left(self._due, start / self._tick)

    def _scan(self) -> tuple[list[int], Fraction]:
        """When each picture is due, in ticks, and when the last ends, by what the file says of its packets.

        Costs no decoding; what cannot be read any more has no packets.
        """
        import av

        due: list[int] = []
        ends: dict[int, int] = {}
        counted = 0
        with _reading(self._open()) as container:
            pictures = self._find_stream(container).index
            try:
                for packet in container.demux():
                    if packet.is_discard or not packet.size:
                        continue
                    at, index = packet.pts, packet.stream_index
                    counted += index == pictures
                    if at is None:
                        continue
                    ends[index] = max(ends.get(index, at), at + (packet.duration or 0))
                    if index == pictures:
                        due.append(at)
            except av.FFmpegError:
                self._damaged += 1
            ticks = {
                stream.index: Fraction(stream.time_base) for stream in container.streams if stream.time_base
            }
            last = max((end * ticks[index] for index, end in ends.items()), default=self.origin) - self.origin
            self._missing = Fraction(container.duration or 0, 1_000_000) - last
        if not due:
            counted = max(1, counted)
            return [int(each * self._each / self._tick) for each in range(counted)], counted * self._each
        first = int(self.origin / self._tick)
        due = sorted(at - first for at in due if at >= first) or [0]
        end = ends[pictures] * self._tick - self.origin
        return due, end if end > due[-1] * self._tick else due[-1] * self._tick + self._each

    def shots(self, start: Fraction) -> Generator[_Frame, None, None]:
        at = -self._each
        with _reading(self._open()) as container:
            if start > _SEEK_FROM:
                self._jump(container, start)
            for frame in self._spread(self._decode(container)):
                time = self._time_of(frame)
                due = at + self._each if time is None else time - self.origin
                if due > at:
                    at = due
                    yield _Frame(at, frame, self._scaler)
        if self._due and at + self._each < self._due[-1] * self._tick:
            self._broken_off = max(at, Fraction(0)) + self._each

    def remarks(self) -> tuple[str, ...]:
        notes = list(self.facts.notes)
        if self._damaged:
            places = "One place" if self._damaged == 1 else f"{self._damaged} places"
            notes.append(f"{places} of the clip could not be decoded and shows what came before.")
        if self._broken_off is None and self._missing > max(Fraction(1, 4), 2 * self._each):
            notes.append(f"The file breaks off: {float(self._missing):.2f} s that it promises are not in it.")
        if self._broken_off is not None:
            notes.append(
                f"The clip breaks off after {float(self._broken_off):.2f} s; "
                "the last picture stands from there on."
            )
        return tuple(notes)

    def _open(self) -> InputContainer:
        try:
            import av
        except ImportError as error:
            raise MediaError(
                f"{self._path} is a video, and reading one needs packages that are not installed here. "
                "Nothing was made; install them with: python3 -m pip install 'cardwright[clip]'. "
                "Animated GIF, PNG and WebP and folders of numbered pictures need none of them.",
                path=str(self._path),
            ) from error
        av.logging.set_level(None)
        readers = ",".join(sorted(name for name in av.formats_available if name not in _LEFT_OUT))
        try:
            return av.open(
                str(self._path.absolute()),
                options={"format_whitelist": readers, "protocol_whitelist": "file"},
                metadata_errors="replace",
            )
        except (av.FFmpegError, OSError, ValueError) as error:
            raise MediaError(_because(error)) from error

    def _find_stream(self, container: InputContainer) -> Any:
        pictures = [
            stream
            for stream in container.streams.video
            if "attached_pic" not in str(stream.disposition.name).lower()
        ]
        if not pictures:
            holds = (
                "it holds sound but no moving picture" if container.streams.audio else "it holds no picture"
            )
            raise MediaError(holds)
        best = container.streams.best("video")
        stream = best if best in pictures else pictures[0]
        if stream.codec_context is None:
            raise MediaError("no decoder here knows its pictures")
        check_pixels("it", stream.codec_context.width, stream.codec_context.height)
        stream.thread_type = "AUTO"
        return stream

    def _read_facts(self, container: InputContainer, stream: Any, first: VideoFrame) -> ClipFacts:
        turn = self._turn
        aspect = Fraction(stream.sample_aspect_ratio or 1)
        aspect = aspect if Fraction(1, 20) < aspect < 20 else Fraction(1)
        self._aspect = 1 / aspect if turn % 180 else aspect
        size = (first.height, first.width) if turn % 180 else (first.width, first.height)
        components = first.format.components
        hdr = _HDR.get(int(first.color_trc))
        sounds = container.streams.audio
        gaps = [after - before for before, after in pairwise(self._due)]
        notes = [] if hdr is None else [_HDR_NOTE.format(hdr)]
        return ClipFacts(
            "video",
            *shown_size(size, self._aspect),
            frames=len(self._due),
            duration=self._end,
            rate=Fraction(stream.average_rate) if stream.average_rate else None,
            variable=bool(gaps) and max(gaps) - min(gaps) > 2,
            rotation=turn,
            alpha=has_alpha(first) or stream.metadata.get("alpha_mode") == "1",
            interlaced=first.interlaced_frame,
            bits=max(component.bits for component in components),
            hdr=hdr,
            sound=(sounds[0].rate, sounds[0].channels) if sounds else None,
            notes=tuple(notes),
        )

    def _jump(self, container: InputContainer, start: Fraction) -> None:
        """Go to the last place to decode from that is not behind `start`; to the beginning if unsure."""
        import av

        stream = self._find_stream(container)
        wanted = int((self.origin + start) / self._tick)
        try:
            container.seek(wanted, backward=True, stream=stream)
            packet = next(each for each in container.demux(stream) if each.pts is not None)
            if packet.is_keyframe and packet.pts <= wanted:
                container.seek(wanted, backward=True, stream=stream)
                return
        except (av.FFmpegError, StopIteration):
            pass
        container.seek(0, backward=True)

    def _decode(self, container: InputContainer) -> Iterator[VideoFrame]:
        import av

        stream = self._find_stream(container)
        decoder = _alpha_decoder(stream) or stream.codec_context
        try:
            for packet in _packets(container, stream, flush=True):
                try:
                    frames = decoder.decode(packet if packet.size else None)
                except (av.InvalidDataError, av.error.UndefinedError):
                    self._damaged += 1
                    continue
                for frame in frames:
                    check_pixels("it", frame.width, frame.height)
                    yield frame
        except (av.FFmpegError, EOFError) as error:
            if isinstance(error, MemoryError):
                raise
            self._damaged += 1

    def _spread(self, frames: Iterator[VideoFrame]) -> Iterator[VideoFrame]:
        if not self._interlaced:
            return frames
        from workbench.media.clip_scaling import join_fields

        return join_fields(frames, self._tick)

    def _time_of(self, frame: VideoFrame) -> Fraction | None:
        if frame.pts is None:
            return None
        return frame.pts * Fraction(frame.time_base or self._tick)


_HDR_NOTE = (
    "The clip is in high dynamic range ({}); it is brought down to what a panel shows, "
    "so compare bright parts with the original."
)


def set_upright(frame: VideoFrame) -> tuple[int, list[str]]:
    """The clockwise turn in degrees that the metadata asks for, and libav's filters that make it.

    A mirrored picture is mirrored back; the rule is that of the ffmpeg command (FFmpeg, `fftools`). What is
    no quarter turn is taken for the nearest.
    """
    held: Any = frame.side_data.get("DISPLAYMATRIX")
    if held is None or len(bytes(held)) < 36:
        return 0, []
    matrix = struct.unpack("=9i", bytes(held)[:36])
    turn = round(-frame.rotation / 90) * 90 % 360
    if turn == 180:
        return turn, ["hflip"] * (matrix[0] < 0) + ["vflip"] * (matrix[4] < 0)
    if turn == 90:
        return turn, ["transpose=cclock_flip" if matrix[3] > 0 else "transpose=clock"]
    if turn == 270:
        return turn, ["transpose=clock_flip" if matrix[3] < 0 else "transpose=cclock"]
    return turn, ["vflip"] * (matrix[4] < 0)


def has_alpha(frame: VideoFrame) -> bool:
    """Whether its pixels can be seen through."""
    return any(component.is_alpha for component in frame.format.components)


def _alpha_decoder(stream: Any) -> Any:
    """VP8 and VP9 keep what is see-through in a layer that only libvpx's own decoder reads."""
    import av

    names = {"vp8": "libvpx", "vp9": "libvpx-vp9"}
    name = names.get(stream.codec_context.name)
    if stream.metadata.get("alpha_mode") != "1" or name is None:
        return None
    try:
        decoder = av.CodecContext.create(name, "r")
    except (av.FFmpegError, ValueError):
        return None
    decoder.extradata = stream.codec_context.extradata
    return decoder


def _packets(container: InputContainer, stream: Any, flush: bool = False) -> Iterator[Packet[Any]]:
    for packet in container.demux(stream):
        if packet.size or flush:
            yield packet


class _reading:
    """An open container that is closed whatever happens; libav's failures become one sentence."""

    def __init__(self, container: InputContainer) -> None:
        self._container = container

    def __enter__(self) -> InputContainer:
        return self._container

    def __exit__(self, kind: Any, error: BaseException | None, _trace: Any) -> None:
        import av

        self._container.close()
        if isinstance(error, av.FFmpegError) and not isinstance(error, MediaError):
            raise MediaError(_because(error)) from error


def _because(error: BaseException) -> str:
    import av

    if isinstance(error, av.InvalidDataError):
        return "its content is torn, or of no kind that is known here"
    if isinstance(error, av.error.ArgumentError):
        return "it is a list of other files, or of a kind that is not read here"
    if getattr(error, "errno", None) == errno.EBUSY:  # libav's answer to a size that cannot be
        return "it promises pictures larger than any that are decoded"
    because = str(getattr(error, "strerror", None) or error).split("\n")[0]
    return f"it cannot be read here ({because or 'it is damaged'})"

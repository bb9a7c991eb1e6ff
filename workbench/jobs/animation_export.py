"""Writes an animation on a card out as one file to share: a GIF, or with the extra `clip` an MP4 with sound.

A GIF counts in hundredths of a second (GIF89a, section 23): each frame ends at the hundredth nearest to its
true time, so that the whole keeps its length.
"""

from __future__ import annotations

import io
import wave
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.card.animation_pace import USUAL
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, FrameFile, read_animation, require_rule
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardwrightError, EntryError, MediaError, UsageError
from workbench.host.safe_write import write_safely
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.animate.wish import Cancelled, OnProgress, Progress, ignore, never
from workbench.jobs.animation_frames import decode_frame
from workbench.media.fitting import fit_picture
from workbench.shown import shown
from workbench.values import dataclass

if TYPE_CHECKING:
    from PIL.Image import Image

_SHORTEST = 2
"""Hundredths of a second: what a GIF says below that, viewers take for ten (common practice, no source)."""
_TICKS = 90_000
"""Of a second, as MP4 counts time here."""


@dataclass(frozen=True, slots=True)
class Exported:
    """One file that was written."""

    path: Path
    bytes: int
    frames: int
    length: Fraction
    notes: tuple[str, ...]


def export_animation(
    tree: Tree,
    profile: Profile,
    name: str,
    path: Path,
    *,
    overwrite: bool = False,
    progress: OnProgress = ignore,
    cancelled: Cancelled = never,
) -> Exported:
    """Write the animation to a file of the user's; the suffix says which kind.

    Raises:
        UsageError: neither `.gif` nor `.mp4`.
        EntryError: no such animation, or it has no frames.
        MediaError: a frame is torn, or MP4 is asked for without the extra `clip`.
        CardwrightError: the file is there already and `overwrite` is not given.
        HostWriteError: it cannot be written.
    """
    suffix = path.suffix.lower()
    if suffix not in (".gif", ".mp4"):
        raise UsageError(f"an animation is written as .gif or .mp4, not as {path.name!r}")
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    if not animation.frames:
        raise EntryError(
            f"the boot animation {shown(animation.name)} has no frames", path=str(animation.folder)
        )
    if path.exists() and not overwrite:
        raise CardwrightError(
            f"{path} is there already and is left as it is; choose another name", path=str(path)
        )
    playing = _Playing(tree, profile, rule, animation, progress, cancelled)
    content, notes = _make_gif(playing) if suffix == ".gif" else _make_mp4(playing)
    write_safely(path, content, 0o644)
    return Exported(path, len(content), len(playing.frames), len(playing.frames) * playing.delay, notes)


class _Playing:
    """The frames in the order in which the device shows them, decoded one by one."""

    def __init__(
        self,
        tree: Tree,
        profile: Profile,
        rule: AnimationRule,
        animation: Animation,
        progress: OnProgress,
        cancelled: Cancelled,
    ) -> None:
        self._tree, self._profile, self._rule = tree, profile, rule
        self._progress, self._cancelled = progress, cancelled
        self.animation = animation
        self.frames: tuple[FrameFile, ...] = animation.frames[: animation.shown_count]
        self.delay = animation.pace.delay if animation.pace is not None else USUAL
        self.notes = (
            () if animation.pace is not None else ("Its pace is not known; 35 ms a frame are taken.",)
        )

    def decode(self, indices: list[int]) -> Iterator[Image]:
        for done, index in enumerate(indices):
            if self._cancelled():
                raise CancelledError("stopped; nothing was written")
            self._progress(Progress("writing frames", done, len(indices)))
            yield decode_frame(self._tree, self._profile, self._rule, self.frames[index].at)

    def sound(self) -> bytes | None:
        at = self.animation.sound
        return self._tree.read(at) if at is not None else None


def gif_times(count: int, delay: Fraction) -> list[tuple[int, int]]:
    """Index and hundredths of a second of each frame that a GIF can show; those too short are left out."""
    times: list[tuple[int, int]] = []
    shown_from = 0
    for index in range(count):
        end = round((index + 1) * delay * 100)
        if end - shown_from >= _SHORTEST or index == count - 1:
            times.append((index, max(1, end - shown_from)))
            shown_from = end
    return times


def _make_gif(playing: _Playing) -> tuple[bytes, tuple[str, ...]]:
    times = gif_times(len(playing.frames), playing.delay)
    frames = playing.decode([index for index, _ in times])
    held = io.BytesIO()
    loops = playing.animation.loops
    # The looping extension counts repeats: 0 for ever, none at all for once (common practice, no standard).
    repeats: dict[str, int] = {} if loops == 1 else {"loop": max(0, (loops or 1) - 1)}
    next(frames).save(
        held,
        "GIF",
        save_all=True,
        append_images=frames,
        duration=[10 * hundredths for _, hundredths in times],
        **repeats,
    )
    notes = ["A GIF has no sound."] if playing.animation.sound is not None else []
    if len(times) < len(playing.frames):
        notes.append(f"{len(playing.frames) - len(times)} frames are too short for a GIF and left out.")
    return held.getvalue(), (*playing.notes, *notes)


def _make_mp4(playing: _Playing) -> tuple[bytes, tuple[str, ...]]:
    av = _import_av()
    held = io.BytesIO()
    samples, note = _read_samples(playing.sound())
    try:
        with av.open(held, "w", format="mp4") as output:
            video = output.add_stream("libx264" if "libx264" in av.codecs_available else "mpeg4")
            sound = None
            if samples is not None:
                sound = output.add_stream("aac", rate=samples.rate, layout=samples.layout)
            _write_video(av, output, video, playing)
            if sound is not None and samples is not None:
                _write_sound(av, output, sound, samples)
    except av.error.FFmpegError as error:
        raise MediaError(
            f"the MP4 could not be made: {error}; nothing was written. A GIF needs no encoder."
        ) from error
    return held.getvalue(), (*playing.notes, *filter(None, [note]))


def _import_av() -> Any:
    try:
        import av
    except ImportError as error:
        raise MediaError(
            "an MP4 needs the extra `clip`; nothing was written. Install it with: "
            "python3 -m pip install 'cardwright[clip]', or write a .gif"
        ) from error
    return av


def _write_video(av: Any, output: Any, stream: Any, playing: _Playing) -> None:
    for index, picture in enumerate(playing.decode(list(range(len(playing.frames))))):
        if index == 0:
            # Chroma is halved both ways, so the sides have to be even.
            stream.width, stream.height = (side + side % 2 for side in picture.size)
            stream.pix_fmt = "yuv420p"
            stream.time_base = stream.codec_context.time_base = Fraction(1, _TICKS)
        if picture.size != (stream.width, stream.height):
            picture = fit_picture(picture, stream.width, stream.height)
        frame = av.VideoFrame.from_image(picture)
        frame.pts, end = (round(number * playing.delay * _TICKS) for number in (index, index + 1))
        frame.duration = end - frame.pts
        frame.time_base = Fraction(1, _TICKS)
        _mux(output, stream.encode(frame), end - frame.pts)
    _mux(output, stream.encode(None), round(playing.delay * _TICKS))


def _mux(output: Any, packets: list[Any], ticks: int) -> None:
    """Write packets, each with the time that it stands: the last one would get none by itself."""
    for packet in packets:
        packet.duration = ticks
        output.mux(packet)


@dataclass(frozen=True, slots=True)
class _Samples:
    """Sound as 16-bit samples, channels in turn."""

    rate: int
    channels: int
    raw: bytes

    @property
    def layout(self) -> str:
        return "mono" if self.channels == 1 else "stereo"


def _read_samples(raw: bytes | None) -> tuple[_Samples | None, str]:
    """The sound, and why there is none; only WAV is read here: nothing else can be without a decoder."""
    if raw is None:
        return None, ""
    try:
        with wave.open(io.BytesIO(raw)) as sound:
            width, rate, channels = sound.getsampwidth(), sound.getframerate(), sound.getnchannels()
            samples = _Samples(rate, channels, sound.readframes(sound.getnframes()))
    except (wave.Error, EOFError):
        return None, "The sound is no plain WAV and was left out."
    if width != 2 or channels > 2 or not samples.raw:
        return None, "The sound is no WAV of 16 bits and was left out."
    return samples, ""


def _write_sound(av: Any, output: Any, stream: Any, samples: _Samples) -> None:
    one = 2 * samples.channels
    step = 1024 * one
    for at in range(0, len(samples.raw), step):
        piece = samples.raw[at : at + step]
        frame = av.AudioFrame(format="s16", layout=samples.layout, samples=len(piece) // one)
        frame.planes[0].update(piece.ljust(frame.planes[0].buffer_size, b"\0"))
        frame.sample_rate = samples.rate
        frame.pts = at // one
        frame.time_base = Fraction(1, samples.rate)
        output.mux(stream.encode(frame))
    output.mux(stream.encode(None))

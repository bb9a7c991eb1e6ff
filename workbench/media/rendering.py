"""Carries out a render order: from the source to the files of a boot animation, and what they measure.

One thread decodes and scales, a second one encodes and writes, a third makes the sound. Runs in the worker
process: nothing here is called where a hostile clip could do harm.
"""

from __future__ import annotations

import hashlib
import threading
from contextlib import closing
from fractions import Fraction
from pathlib import Path

from workbench.errors import MediaError
from workbench.media.clip_source import Clip, open_clip
from workbench.media.frame_times import Timeline, lay_out, pick
from workbench.media.frame_writer import FrameWriter, Progress
from workbench.media.render_order import RenderOrder
from workbench.media.render_report import RenderedFile, RenderReport
from workbench.media.rendered_sound import RenderedSound
from workbench.media.sound import render_sound
from workbench.media.sound_cut import SoundCut
from workbench.values import replace

_BESIDE = 20
"""Seconds of sound up to which it is made while the frames are; longer ones wait for the frames' memory."""


def render(order: RenderOrder, folder: Path, progress: Progress) -> RenderReport:
    """Render into an empty folder.

    Raises:
        MediaError: what is wrong with the clip or the order, in one sentence.
        OSError: the folder cannot take the files.
    """
    _check(order)
    clip = open_clip(order)
    timeline = lay_out(order, clip.find_end())
    if order.still is not None:
        order = replace(order, still=min(order.still, timeline.count - 1))
    sound = _SoundThread(order, clip, timeline)
    writer = FrameWriter(order, timeline, folder, progress)
    try:
        _send_frames(clip, timeline, writer)
        frames, still, verdict = writer.finish()
    except MediaError as error:
        raise _name_source(error, order) from error
    heard = sound.finish()
    stop = timeline.times[0] + timeline.content * order.speed
    whole = order.hold_start + timeline.content + order.hold_end
    pictures = clip.count_pictures(order.start, stop)
    return RenderReport(
        frames=frames,
        sound=_store_sound(order, heard, folder),
        still=still,
        facts=clip.facts,
        count=timeline.count,
        length=timeline.length,
        drift_naive_ms=float((pictures * order.delay - timeline.content) * 1000),
        drift_ours_ms=float((timeline.length - whole) * 1000),
        flash=verdict,
        loudness=heard.loudness if heard else None,
        true_peak=heard.true_peak if heard else None,
        notes=(*clip.remarks(), *(heard.notes if heard else ())),
    )


def _check(order: RenderOrder) -> None:
    """What no source could make good."""
    width, height = order.panel
    if width < 1 or height < 1 or width * height > 4096 * 4096:
        raise MediaError(f"a panel of {width}×{height} pixels is none that frames are made for")
    if order.delay <= 0 or order.speed <= 0:
        raise MediaError("delay and speed have to be more than 0. Nothing was made")
    if not 0 < order.dim <= 1:
        raise MediaError("dimming goes from just above 0 to 1. Nothing was made")
    spans = (order.start, order.hold_start, order.hold_end, order.fade_in, order.fade_out)
    if min(spans) < 0 or (order.length is not None and order.length <= 0):
        raise MediaError("times have to be 0 or more, and the length more than 0. Nothing was made")
    if "{n}" not in order.frames.pattern or "/" in order.frames.pattern or "\\" in order.frames.pattern:
        raise MediaError(f"{order.frames.pattern!r} names no frames: it needs {{n}} and no folders")


def _send_frames(clip: Clip, timeline: Timeline, writer: FrameWriter) -> None:
    shown, pixels = None, None
    with closing(clip.shots(timeline.times[0])) as shots:
        for shot in pick(shots, timeline.times, clip.slack):
            if shot is not shown or pixels is None:
                shown, pixels = shot, shot.draw()
            writer.put(pixels)
    if pixels is None:
        raise MediaError("no picture in it could be decoded")


def _name_source(error: MediaError, order: RenderOrder) -> MediaError:
    if error.path is not None or "Nothing was made" in error.message:
        return error
    return MediaError(
        f"{order.source} is not used: {error.message}. Nothing was made; choose another clip",
        path=str(order.source),
    )


class _SoundThread:
    """The sound, in a thread of its own; one that fails stops the render at its end."""

    def __init__(self, order: RenderOrder, clip: Clip, timeline: Timeline) -> None:
        self._sound: RenderedSound | None = None
        self._failed: BaseException | None = None
        self._thread: threading.Thread | None = None
        is_own = order.sound is None
        if order.audio is None or order.silent or (is_own and clip.facts.sound is None):
            return
        self._source = order.sound or order.source
        self._form = order.audio
        self._cut = SoundCut(
            total=timeline.length,
            begin=clip.origin + order.start if is_own else None,
            length=timeline.content * order.speed if is_own else None,
            speed=order.speed if is_own else Fraction(1),
            lead=order.hold_start,
        )
        self._thread = threading.Thread(target=self._work, name="sound", daemon=True)
        if timeline.length <= _BESIDE:
            self._thread.start()

    def finish(self) -> RenderedSound | None:
        """The sound, or None where there is none."""
        if self._thread is not None:
            if self._thread.ident is None:
                self._thread.start()
            self._thread.join()
        if self._failed is not None:
            raise self._failed
        return self._sound

    def _work(self) -> None:
        try:
            self._sound = render_sound(self._source, self._cut, self._form)
        except BaseException as error:
            self._failed = error


def _store_sound(order: RenderOrder, heard: RenderedSound | None, folder: Path) -> RenderedFile | None:
    if heard is None or order.audio is None:
        return None
    with open(folder / order.audio.name, "wb") as file:
        file.write(heard.encoded)
    return RenderedFile(order.audio.name, len(heard.encoded), hashlib.sha256(heard.encoded).hexdigest())

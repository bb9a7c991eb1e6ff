"""Brings sound to the device's rate, channels and speed through libav's filters, and to an exact length."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from typing import Any, cast

import numpy as np

from workbench.errors import MediaError
from workbench.media.sound_source import SoundPiece

LAYOUTS = {1: "mono", 2: "stereo"}
_SLOWEST = Fraction(1, 2)
"""What one `atempo` filter can do; several in a row do more. Upwards it reaches a hundredfold."""
_FASTEST = 100
_JUST = Fraction(1, 10_000)


def shape_sound(
    pieces: Iterable[SoundPiece], rate: int, channels: int, speed: Fraction, total: int, lead: int = 0
) -> Any:
    """`total` samples × channels: `lead` of silence, then the pieces, then silence again.

    `speed` above 1 is faster; the pitch is kept.
    """
    if channels not in LAYOUTS:
        raise MediaError(f"a sound of {channels} channels cannot be made; one or two can")
    shaped = np.zeros((total, channels), np.float32)
    at = lead
    for samples in _filter(pieces, rate, channels, speed):
        kept = samples[: max(0, total - at)]
        shaped[at : at + len(kept)] = kept
        at += len(kept)
        if at >= total:
            break
    return shaped


def _filter(pieces: Iterable[SoundPiece], rate: int, channels: int, speed: Fraction) -> Iterator[Any]:
    graph: _Graph | None = None
    skipped = 0
    is_whole = not split_speed(speed)
    for piece in pieces:
        kind = (piece.rate, piece.layout)
        if graph is None and is_whole and kind == (rate, LAYOUTS[channels]):
            yield piece.samples.T  # as it has to be: the filters would only copy it
            continue
        if graph is None:
            early = round(early_by(speed, piece.rate) * rate)
            yield np.zeros((max(0, early), channels), np.float32)
            skipped = max(0, -early)
        if graph is None or graph.kind != kind:
            if graph is not None:
                yield from graph.finish()
            graph = _Graph(kind, rate, channels, speed)
        for samples in graph.feed(piece.samples):
            yield samples[skipped:]
            skipped = max(0, skipped - len(samples))
    if graph is not None:
        yield from graph.finish()


class _Graph:
    """One chain of filters, for sound that stays of one kind."""

    def __init__(self, kind: tuple[int, str], rate: int, channels: int, speed: Fraction) -> None:
        from av.filter import Graph

        self.kind = kind
        self._channels = channels
        self._fed = 0
        self._graph = graph = Graph()  # Kept: libav's filters do not outlive it.
        self._entry = graph.add_abuffer(
            sample_rate=kind[0], format="flt", layout=kind[1], time_base=Fraction(1, kind[0])
        )
        form = f"sample_fmts=flt:sample_rates={rate}:channel_layouts={LAYOUTS[channels]}"
        chain = [self._entry]
        chain += [graph.add("atempo", f"{float(part):.9f}") for part in split_speed(speed)]
        chain += [graph.add("aformat", form), graph.add("abuffersink")]
        graph.link_nodes(*chain).configure()
        self._exit = chain[-1]

    def feed(self, samples: Any) -> Iterator[Any]:
        from av import AudioFrame

        # Not planar: PyAV gives up on eight planes and more.
        line = np.ascontiguousarray(samples.T).reshape(1, -1)
        frame = AudioFrame.from_ndarray(line, format="flt", layout=self.kind[1])
        frame.sample_rate, frame.pts, frame.time_base = self.kind[0], self._fed, Fraction(1, self.kind[0])
        self._fed += samples.shape[1]
        self._entry.push(frame)
        yield from self._pull()

    def finish(self) -> Iterator[Any]:
        self._entry.push(None)
        yield from self._pull()

    def _pull(self) -> Iterator[Any]:
        from av import AudioFrame
        from av.error import BlockingIOError as NotYet
        from av.error import EOFError as AtEnd

        while True:
            try:
                frame = self._exit.pull()
            except (NotYet, AtEnd):
                return
            yield cast(AudioFrame, frame).to_ndarray().reshape(-1, self._channels)


def split_speed(speed: Fraction) -> list[Fraction]:
    """The speeds of filters in a row that make this one; none where it stays as it is."""
    parts = []
    while speed < _SLOWEST:
        parts.append(_SLOWEST)
        speed /= _SLOWEST
    while speed > _FASTEST:
        parts.append(Fraction(_FASTEST))
        speed /= _FASTEST
    return parts if abs(speed - 1) < _JUST else [*parts, speed]


def early_by(speed: Fraction, rate: int) -> Fraction:
    """Seconds by which `atempo` lets things be heard too early, on average, at that rate of the source.

    It puts together overlapping windows, each at its new time but unchanged within: what lies in the middle
    of one comes half the difference of their lengths too early, or too late where the sound is made faster.
    """
    early = Fraction(0)
    for part in split_speed(speed):
        early = early / part + Fraction(_window(rate), 2 * rate) * (1 / part - 1)
    return early


def _window(rate: int) -> int:
    """Samples in a window of `atempo`: 1/24 s, up to the next power of two."""
    return 1 << (max(1, rate // 24) - 1).bit_length()


def fade_sound(samples: Any, rate: int, fade_in: Fraction, fade_out: Fraction) -> None:
    """Fade in place, evenly: in from the first sample, out to the last."""
    inward, outward = (min(round(fade * rate), len(samples)) for fade in (fade_in, fade_out))
    if inward > 0:
        samples[:inward] *= np.linspace(0, 1, inward, endpoint=False, dtype=np.float32)[:, None]
    if outward > 0:
        samples[-outward:] *= np.linspace(1, 0, outward + 1, dtype=np.float32)[1:, None]

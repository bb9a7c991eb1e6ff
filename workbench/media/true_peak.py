"""True peak by ITU-R BS.1770 annex 2: the highest the signal reaches between its samples. Needs numpy.

Eight values for each sample (the standard asks for four at 48 kHz), so that no tone under 0.45 of the rate
reads more than 0.15 dB low. First the values half way between samples: a signal without anything above half
the rate reaches at least cos 45° of its peak on that grid (Bernstein), so all others are worked out beside
such places only.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

_TIMES = 8
_TAPS = 32
_PIECE = 32768
_SPAN = 32
"""Samples that one row of a product of matrices answers for: BLAS takes a fifth of a convolution's time."""
_NEAR = 0.7
"""Under cos 45 degrees: what a place beside the peak has at least."""
SILENT = -math.inf


class PeakMeter:
    """Follows the highest value of all channels together."""

    def __init__(self, channels: int) -> None:
        phases = _design()
        self._all = _spread(phases)
        self._middle = _spread(phases[:, _TIMES // 2 - 1 : _TIMES // 2])
        self._waiting = np.zeros((_TAPS - 1, channels), np.float32)
        self._peak = 0.0

    def feed(self, samples: Any) -> None:
        """Take in samples: an array of n × channels, full scale 1.0."""
        for at in range(0, len(samples), _PIECE):
            self._look_at(np.asarray(samples[at : at + _PIECE], np.float32))

    def true_peak(self) -> float:
        """dBTP of all that was fed; minus infinity for silence."""
        if self._waiting.any():
            self._look_at(np.zeros((_TAPS, self._waiting.shape[1]), np.float32))
        return 20 * math.log10(self._peak) if self._peak else SILENT

    def _look_at(self, piece: Any) -> None:
        around = np.concatenate([self._waiting, piece])
        self._waiting = around[-(_TAPS - 1) :]
        if len(around) < _TAPS:
            return
        for channel in np.ascontiguousarray(around.T):
            self._look_along(channel, len(channel) - _TAPS + 1)

    def _look_along(self, channel: Any, count: int) -> None:
        """One channel, of which `count` places have all the samples that they need around them."""
        spans = -(-count // _SPAN)
        padded = np.zeros(spans * _SPAN + _TAPS, np.float32)
        padded[: len(channel)] = channel
        windows = np.lib.stride_tricks.sliding_window_view(padded, _SPAN + _TAPS - 1)[: spans * _SPAN : _SPAN]
        grid = np.abs(windows.copy() @ self._middle)
        sampled = np.abs(padded[_TAPS // 2 - 1 : _TAPS // 2 + spans * _SPAN])
        np.maximum(grid, sampled[:-1].reshape(spans, _SPAN), out=grid)
        np.maximum(grid, sampled[1:].reshape(spans, _SPAN), out=grid)
        grid.reshape(-1)[count:] = 0  # where the zeros that fill the last span would be heard as a click
        self._peak = max(self._peak, float(grid.max()))
        if self._peak:
            self._look_between(windows, np.flatnonzero(grid.max(axis=1) >= _NEAR * self._peak), count)

    def _look_between(self, windows: Any, spans: Any, count: int) -> None:
        """All eight values of the spans in which the peak can be."""
        values = np.abs(windows[spans] @ self._all)
        if len(spans) and spans[-1] == len(windows) - 1:
            phases = values.shape[1] // _SPAN
            values[-1, (count - (len(windows) - 1) * _SPAN) * phases :] = 0
        self._peak = max(self._peak, float(values.max(initial=0.0)))


def measure_true_peak(samples: Any) -> float:
    """dBTP of an array of n × channels."""
    meter = PeakMeter(samples.shape[1])
    meter.feed(samples)
    return meter.true_peak()


def _design() -> Any:
    """Taps × phases: a sinc under a Kaiser window, each phase passing a constant unchanged."""
    places = np.arange(_TAPS)[:, None] - (_TAPS / 2 - 1) - np.arange(1, _TIMES)[None, :] / _TIMES
    spread = places / (_TAPS / 2)
    window = np.i0(8.0 * np.sqrt(np.maximum(0.0, 1 - spread * spread))) / np.i0(8.0)
    taps = np.sinc(places) * window
    return (taps / taps.sum(axis=0)).astype(np.float32)


def _spread(phases: Any) -> Any:
    """Taps × phases as a matrix from the samples around a span to every phase of every place in it."""
    taps, count = phases.shape
    matrix = np.zeros((_SPAN + taps - 1, _SPAN, count), np.float32)
    for place in range(_SPAN):
        matrix[place : place + taps, place] = phases
    return matrix.reshape(_SPAN + taps - 1, _SPAN * count)

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
_NEAR = 0.7
"""Under cos 45 degrees: what a place beside the peak has at least."""
_MANY = 8
"""From one place in eight on, going over all of them at once is quicker."""
SILENT = -math.inf


class PeakMeter:
    """Follows the highest value of all channels together."""

    def __init__(self, channels: int) -> None:
        self._phases = _design()
        self._middle = np.ascontiguousarray(self._phases[::-1, _TIMES // 2 - 1])
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
            before = np.abs(channel[_TAPS // 2 - 1 : -(_TAPS // 2)])
            after = np.abs(channel[_TAPS // 2 : len(channel) - _TAPS // 2 + 1])
            grid = np.maximum(np.abs(np.convolve(channel, self._middle, "valid")), np.maximum(before, after))
            self._peak = max(self._peak, float(grid.max()))
            if self._peak:
                self._look_between(channel, np.flatnonzero(grid >= _NEAR * self._peak))

    def _look_between(self, channel: Any, places: Any) -> None:
        """All eight values beside the places where the peak can be."""
        if len(places) * _MANY > len(channel):
            phases = (np.convolve(channel, phase, "valid") for phase in self._phases[::-1].T)
            highest = max(float(np.abs(phase).max()) for phase in phases)
        else:
            windows = np.lib.stride_tricks.sliding_window_view(channel, _TAPS)[places]
            highest = float(np.abs(np.einsum("wt,tp->wp", windows, self._phases)).max(initial=0.0))
        self._peak = max(self._peak, highest)


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

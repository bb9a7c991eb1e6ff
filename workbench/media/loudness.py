"""Integrated loudness by ITU-R BS.1770: K-weighting at any rate, 400 ms blocks, both gates. Needs numpy.

Samples come in pieces of any length; what is kept is one number for each tenth of a second.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

ABSOLUTE_GATE = -70.0
"""LUFS; quieter blocks do not count."""
RELATIVE_GATE = -10.0
"""LU under the mean of what passed the absolute gate."""
_OFFSET = -0.691
_BLOCK = 4
"""Tenths of a second in a block; blocks overlap by three quarters."""
_SETTLED = 0.2
"""Seconds after which what the filters remember is under 1e-9 of what it was."""

_SURROUND = 1.41
_WEIGHTS = {"LFE": 0.0, "LFE2": 0.0} | dict.fromkeys(("BL", "BR", "SL", "SR", "BC"), _SURROUND)

Biquad = tuple[tuple[float, float, float], tuple[float, float, float]]
"""Numerator and denominator of one filter of second order, by powers of 1/z."""


def channel_weights(names: Sequence[str]) -> tuple[float, ...]:
    """BS.1770's weights: surrounds 1.41, the channel of low effects left out, all others 1.

    Names as libav has them (FL, FR, FC, LFE, BL, SR …).
    """
    return tuple(_WEIGHTS.get(name, 1.0) for name in names)


def k_weighting(rate: int) -> tuple[Biquad, Biquad]:
    """The shelf and the high-pass, for this rate.

    BS.1770 gives the coefficients for 48 kHz; these are the analogue filters that lead to them there.
    """
    k, quality = math.tan(math.pi * 1681.974450955533 / rate), 0.7071752369554196
    high = 10 ** (3.999843853973347 / 20)
    middle = high**0.4996667741545416
    whole = 1 + k / quality + k * k
    shelf = (
        (
            (high + middle * k / quality + k * k) / whole,
            2 * (k * k - high) / whole,
            (high - middle * k / quality + k * k) / whole,
        ),
        (1.0, 2 * (k * k - 1) / whole, (1 - k / quality + k * k) / whole),
    )
    k, quality = math.tan(math.pi * 38.13547087602444 / rate), 0.5003270373238773
    whole = 1 + k / quality + k * k
    high_pass = ((1.0, -2.0, 1.0), (1.0, 2 * (k * k - 1) / whole, (1 - k / quality + k * k) / whole))
    return shelf, high_pass


class LoudnessMeter:
    """Measures one signal, channel by channel."""

    def __init__(self, rate: int, weights: Sequence[float]) -> None:
        """For `rate` samples a second and one channel for each weight (see `channel_weights`)."""
        self._rate = rate
        self._weights = np.array(weights)
        self._hop = 1 << math.ceil(math.log2(max(64, rate * _SETTLED)))
        self._response = _respond(k_weighting(rate), 2 * self._hop)[:, None]
        self._waiting = np.zeros((self._hop, len(weights)))
        self._taken = 0
        """Samples that were filtered."""
        self._tenths: list[float] = []
        """Weighted sums of squares, of each tenth of a second; the last may still grow."""

    def feed(self, samples: Any) -> None:
        """Take in samples: an array of n × channels, full scale 1.0."""
        self._waiting = np.concatenate([self._waiting, samples])
        while len(self._waiting) >= 2 * self._hop:
            self._add(self._filter(self._waiting[: 2 * self._hop]))
            self._waiting = self._waiting[self._hop :]

    def loudness(self) -> float | None:
        """LUFS of all that was fed; None for less than 400 ms, or nothing louder than -70 LUFS."""
        rest = len(self._waiting) - self._hop
        tenths = list(self._tenths)
        if rest:
            padded = np.concatenate([self._waiting, np.zeros((self._hop - rest, len(self._weights)))])
            _add_tenths(tenths, self._filter(padded)[:rest], self._taken, self._rate)
        whole = (self._taken + rest) * 10 // self._rate
        return _gate(np.array(tenths[:whole]) * 10 / self._rate)

    def _filter(self, samples: Any) -> Any:
        """The last half of these samples, filtered (the first half is what the filters remember), squared."""
        filtered = np.fft.irfft(np.fft.rfft(samples, axis=0) * self._response, axis=0)[self._hop :]
        return (filtered * filtered) @ self._weights

    def _add(self, squares: Any) -> None:
        _add_tenths(self._tenths, squares, self._taken, self._rate)
        self._taken += len(squares)


def measure_loudness(samples: Any, rate: int, weights: Sequence[float] | None = None) -> float | None:
    """LUFS of an array of n × channels; None as in `LoudnessMeter.loudness`. Mono and stereo by default."""
    meter = LoudnessMeter(rate, weights or (1.0,) * samples.shape[1])
    meter.feed(samples)
    return meter.loudness()


def _respond(filters: Sequence[Biquad], size: int) -> Any:
    """What the filters do to each frequency of a transform of that size."""
    turn = np.exp(-2j * np.pi * np.arange(size // 2 + 1) / size)
    response = np.ones_like(turn)
    for over, under in filters:
        response *= np.polyval(over[::-1], turn) / np.polyval(under[::-1], turn)
    return response


def _add_tenths(tenths: list[float], squares: Any, first: int, rate: int) -> None:
    """Add the squares of samples `first` and following to the tenths of a second that they lie in."""
    last = first + len(squares) - 1
    numbers = range(first * 10 // rate, last * 10 // rate + 1)
    edges = [max(0, -(-number * rate // 10) - first) for number in numbers]
    for number, total in zip(numbers, np.add.reduceat(squares, edges), strict=True):
        if number == len(tenths):
            tenths.append(0.0)
        tenths[number] += float(total)


def _gate(tenths: Any) -> float | None:
    if len(tenths) < _BLOCK:
        return None
    sums = np.concatenate([[0.0], np.cumsum(tenths)])
    blocks = np.maximum(sums[_BLOCK:] - sums[:-_BLOCK], 0.0) / _BLOCK
    loud = blocks[blocks > _power(ABSOLUTE_GATE)]
    if not len(loud):
        return None
    kept = loud[loud > loud.mean() * 10 ** (RELATIVE_GATE / 10)]
    return _OFFSET + 10 * math.log10(kept.mean())


def _power(loudness: float) -> float:
    return float(10 ** ((loudness - _OFFSET) / 10))

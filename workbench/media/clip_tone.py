"""High dynamic range brought down to a panel's: ITU-R BT.2100 signals to what an ordinary screen shows.

Light is rebuilt by the signal's own curve, bent so that what is brighter than paper white is pressed together
instead of cut, and given back in BT.709's colours and sRGB's curve. White is 203 cd/m2 (ITU-R BT.2408).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    import numpy

    from workbench.media.frame_pixels import Rows

    Floats = numpy.ndarray[Any, numpy.dtype[numpy.float32]]

WHITE = 203.0
"""cd/m2 of what is shown as white (ITU-R BT.2408, table 1)."""
PEAK = 1000.0
"""cd/m2 that still are told apart; brighter is shown as white."""

_MOST = PEAK / WHITE
_KNEE = 0.6
"""Light, white being 1, from which on it is pressed together; our own choice."""

_TO_709 = (
    (1.660491, -0.587641, -0.072850),
    (-0.124550, 1.132900, -0.008349),
    (-0.018151, -0.100579, 1.118730),
)
"""Linear BT.2020 to BT.709 (ITU-R BT.2087, the inverse of its matrix M)."""


def pq_light(signal: float) -> float:
    """cd/m2 of a PQ signal 0 to 1 (SMPTE ST 2084, ITU-R BT.2100 table 4)."""
    m1, m2 = 2610 / 16384, 2523 / 4096 * 128
    c1, c2, c3 = 3424 / 4096, 2413 / 4096 * 32, 2392 / 4096 * 32
    power = max(signal, 0.0) ** (1 / m2)
    return float(10000 * (max(power - c1, 0.0) / (c2 - c3 * power)) ** (1 / m1))


def hlg_light(signal: float) -> float:
    """Scene light 0 to 1 of an HLG signal 0 to 1 (ARIB STD-B67, ITU-R BT.2100 table 5)."""
    from math import exp

    a, b, c = 0.17883277, 0.28466892, 0.55991073
    return signal * signal / 3 if signal <= 0.5 else (exp((signal - c) / a) + b) / 12


def bring_down(rows: Rows, curve: Literal["PQ", "HLG"]) -> Rows:
    """Rows of 16-bit red, green, blue as rows of 8 bits."""
    import numpy

    light = _light_table(curve)[rows >> 4].reshape(rows.shape[0], -1, 3)
    if curve == "HLG":
        # The reference screen's own gamma of 1.2 at 1000 cd/m2, on luminance.
        luminance = light @ numpy.array((0.2627, 0.6780, 0.0593), numpy.float32)
        light = light * (numpy.maximum(luminance, 1e-6) ** 0.2)[:, :, None] * numpy.float32(PEAK / WHITE)
    brightest = numpy.maximum(light.max(axis=2, keepdims=True), 1e-6)
    light = light * (_press(brightest) / brightest)
    narrow = numpy.clip(light @ numpy.array(_TO_709, numpy.float32).T, 0, 1)
    steps = (narrow * 4095 + 0.5).astype(numpy.uint16)
    stored: Rows = _screen_table()[steps].reshape(rows.shape[0], -1)
    return stored


def _press(light: Floats) -> Floats:
    """Light up to the knee as it is; from there to the peak bent, without a corner, to end at white."""
    import numpy

    steep = (_MOST - _KNEE) / (1 - _KNEE)
    part = numpy.clip((light - _KNEE) / (_MOST - _KNEE), 0, 1)
    bent = _KNEE + (1 - _KNEE) * steep * part / (1 + (steep - 1) * part)
    return numpy.where(light <= _KNEE, light, bent)


@lru_cache(maxsize=2)
def _light_table(curve: Literal["PQ", "HLG"]) -> Floats:
    """Light for each of 4096 signals: PQ in units of white, HLG of its own peak."""
    import numpy

    signals = [step / 4095 for step in range(4096)]
    light = [pq_light(s) / WHITE if curve == "PQ" else hlg_light(s) for s in signals]
    return numpy.array(light, numpy.float32)


@lru_cache(maxsize=1)
def _screen_table() -> Rows:
    """sRGB's 8 bits for each of 4096 steps of light (IEC 61966-2-1)."""
    import numpy

    light = numpy.arange(4096) / 4095
    curved = numpy.where(light <= 0.0031308, 12.92 * light, 1.055 * light ** (1 / 2.4) - 0.055)
    return (curved * 255 + 0.5).astype(numpy.uint8)

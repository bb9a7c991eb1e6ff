"""Brings sound to a wanted loudness while its true peak stays under a limit, as it is when it is played."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from workbench.media.loudness import measure_loudness
from workbench.media.render_order import SoundFormat
from workbench.media.rendered_sound import RenderedSound
from workbench.media.sound_file import decode_sound, encode_sound
from workbench.media.true_peak import SILENT, measure_true_peak

_ATTEMPTS = 6
_SAFETY = 0.03
"""Decibels further down than what was measured asks for: an encoder answers to less with a little more."""
_RAISED = 1
"""Attempts after which it is not made louder again."""
_CLOSE = 0.1
"""LU that the stored sound may be off before it is made again."""
_HEARD = 0.1
"""LU under what was wanted that are worth a sentence."""


def level_sound(samples: Any, form: SoundFormat) -> RenderedSound:
    """Store an array of n × channels in that format, as loud as it wants, if the peak allows it.

    What is measured is the stored sound: lossy encoders overshoot, so it is made again, quieter, until it
    holds.
    """
    ceiling, wanted = float(form.peak), None if form.loudness is None else float(form.loudness)
    loudness, peak = measure_loudness(samples, form.rate), measure_true_peak(samples)
    if peak == SILENT:
        encoded = encode_sound(samples, form.rate, form.container)
        return RenderedSound(encoded, None, None, ("The sound is silent from beginning to end.",))
    asked = 0.0 if wanted is None or loudness is None else wanted - loudness
    gain = min(asked, ceiling - peak)
    for attempt in range(_ATTEMPTS):
        encoded = encode_sound(samples * 10 ** (gain / 20), form.rate, form.container)
        stored, rate = decode_sound(encoded, form.container)
        room = ceiling - measure_true_peak(stored)
        if room < 0 and attempt < _ATTEMPTS - 1:
            gain += room - _SAFETY
            continue
        loudness = measure_loudness(stored, rate)
        off = 0.0 if wanted is None or loudness is None else wanted - loudness
        step = min(off, room - _SAFETY)
        if attempt >= _RAISED or abs(off) < _CLOSE or abs(step) < _CLOSE:
            break
        gain += step
    notes = _explain(form, loudness, room, gain)
    if stored.shape[1] != form.channels:
        notes = (*notes, "The encoder at hand stores two channels; both carry the same sound.")
    return RenderedSound(encoded, loudness, ceiling - room, notes)


def _explain(form: SoundFormat, loudness: float | None, room: float, gain: float) -> tuple[str, ...]:
    """What a person has to know about the level of the stored sound; `room` is left up to the limit."""
    limit = f"{_plain(form.peak)} dBTP"
    if room < 0:
        return (
            f"The encoder lets the true peak reach {-room:.2f} dB over {limit}, however quiet it is made.",
        )
    if form.loudness is not None and loudness is None:
        return ("The sound is too short or too quiet to measure its loudness; it was not made louder.",)
    if form.loudness is not None and loudness is not None and float(form.loudness) - loudness > _HEARD:
        return (
            f"The sound is at {_plain(Fraction(round(loudness * 10), 10))} LUFS and not at "
            f"{_plain(form.loudness)}: made louder, its true peak would go over {limit}.",
        )
    if form.loudness is None and gain < -_CLOSE:
        return (f"The sound was made {-gain:.1f} dB quieter, so that its true peak stays under {limit}.",)
    return ()


def _plain(number: Fraction) -> str:
    return f"{float(number):g}".replace("-", "\u2212")

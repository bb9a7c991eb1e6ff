"""A WAV from a WAV without any extra: cut and faded sample by sample, neither resampled nor levelled."""

from __future__ import annotations

import io
import math
import sys
import wave
from array import array
from fractions import Fraction
from pathlib import Path

from workbench.errors import MediaError
from workbench.media.render_order import SoundFormat
from workbench.media.rendered_sound import RenderedSound
from workbench.media.sound_cut import SoundCut

EXTRA = "install the extra with: python3 -m pip install 'cardwright[clip]'"
_UNMEASURED = (
    "Neither the loudness nor the true peak of the sound was measured, and its level was left as it is: "
    f"{EXTRA}."
)


def render_plain_wav(source: Path, cut: SoundCut, form: SoundFormat) -> RenderedSound:
    """A 16-bit WAV from a 16-bit WAV of the same rate; one channel may become two, or two one.

    Raises:
        MediaError: what needs the extra `clip`, or a damaged file.
    """
    if form.container != "wav" or cut.speed != 1:
        raise MediaError(
            f"only a WAV at its own speed can be made of {source} as it is. Nothing was made; for anything "
            f"else, {EXTRA}",
            path=str(source),
        )
    channels, samples = _read(source, cut, form)
    if channels != form.channels:
        samples = _spread(samples) if form.channels == 2 else _mix(samples)
    lead = min(round(cut.lead * form.rate), round(cut.total * form.rate)) * form.channels
    total = round(cut.total * form.rate) * form.channels
    run = (array("h", bytes(2 * lead)) + samples)[:total]
    run.extend(array("h", bytes(2 * (total - len(run)))))
    _fade(run, lead, form)
    return RenderedSound(_store(run, form), None, None, (_UNMEASURED,))


def _read(source: Path, cut: SoundCut, form: SoundFormat) -> tuple[int, array[int]]:
    """Channels and samples of the part that is heard."""
    try:
        with source.open("rb") as opened, wave.open(opened) as file:
            if file.getsampwidth() != 2 or file.getframerate() != form.rate or file.getnchannels() > 2:
                kind = f"{file.getframerate():,} samples a second, {8 * file.getsampwidth()} bits each"
                raise MediaError(
                    f"{source} has {kind}, on {file.getnchannels()} channels, which cannot be stored as "
                    f"{form.rate:,} of 16 bits. Nothing was made; to convert it, {EXTRA}",
                    path=str(source),
                )
            length = cut.total if cut.length is None else min(cut.total, cut.length)
            file.setpos(min(file.getnframes(), round((cut.begin or Fraction(0)) * form.rate)))
            raw = file.readframes(round(length * form.rate))
            channels = file.getnchannels()
    except (wave.Error, EOFError) as error:
        raise MediaError(
            f"{source} cannot be read as a plain WAV: {error or 'it ends early'}. Nothing was made; "
            f"for other kinds of sound, {EXTRA}",
            path=str(source),
        ) from error
    samples = array("h", raw[: len(raw) // 2 // channels * 2 * channels])
    if sys.byteorder == "big":
        samples.byteswap()
    return channels, samples


def _spread(samples: array[int]) -> array[int]:
    both = array("h", bytes(4 * len(samples)))
    both[0::2] = both[1::2] = samples
    return both


def _mix(samples: array[int]) -> array[int]:
    return array("h", ((left + right) // 2 for left, right in zip(samples[0::2], samples[1::2], strict=True)))


def _fade(samples: array[int], lead: int, form: SoundFormat) -> None:
    """Fade in place, evenly."""
    inward = min(round(form.fade_in * form.rate) * form.channels, len(samples) - lead)
    outward = min(round(form.fade_out * form.rate) * form.channels, len(samples))
    for at in range(inward):
        samples[lead + at] = math.floor(samples[lead + at] * at / inward)
    for at in range(outward):
        samples[len(samples) - 1 - at] = math.floor(samples[len(samples) - 1 - at] * at / outward)


def _store(samples: array[int], form: SoundFormat) -> bytes:
    if sys.byteorder == "big":
        samples = array("h", samples)
        samples.byteswap()
    stored = io.BytesIO()
    with wave.open(stored, "wb") as file:
        file.setnchannels(form.channels)
        file.setsampwidth(2)
        file.setframerate(form.rate)
        file.writeframes(samples.tobytes())
    return stored.getvalue()

"""The sound of a boot animation: read, kept in time with the pictures, cut, faded, levelled, stored.

With the extra `clip` from anything that libav reads; without it, a WAV from a WAV (`sound_plain`).
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import MediaError
from workbench.media.render_order import SoundFormat
from workbench.media.sound_cut import SoundCut

if TYPE_CHECKING:
    from workbench.media.rendered_sound import RenderedSound

LONGEST = 600
"""Seconds of sound that are made at most: all of it is held in memory."""


def render_sound(source: Path, cut: SoundCut, form: SoundFormat) -> RenderedSound:
    """The finished sound file, in memory.

    Raises:
        MediaError: no sound in it, none that can be decoded, or more than can be made, in one sentence.
    """
    if cut.total > LONGEST:
        raise MediaError(f"a sound of {float(cut.total):,.0f} seconds is too long; {LONGEST} are the most")
    try:
        import av  # noqa: F401
        import numpy  # noqa: F401
    except ImportError:
        from workbench.media.sound_plain import render_plain_wav

        return render_plain_wav(source, cut, form)
    return _render(source, cut, form)


def _render(source: Path, cut: SoundCut, form: SoundFormat) -> RenderedSound:
    from workbench.media.sound_level import level_sound
    from workbench.media.sound_shape import fade_sound, shape_sound
    from workbench.media.sound_source import SoundSource, reading_sound
    from workbench.values import replace

    sound, lead = SoundSource(source), round(cut.lead * form.rate)
    length = max(Fraction(0), cut.total - cut.lead) * cut.speed
    if cut.length is not None:
        length = min(length, cut.length)
    total = round(cut.total * form.rate)
    pieces = sound.read(cut.begin, length)
    with reading_sound(source):
        samples = shape_sound(pieces, form.rate, form.channels, cut.speed, total, lead)
        end = min(total, lead + round(length / cut.speed * form.rate))
        fade_sound(samples[min(lead, total) : end], form.rate, form.fade_in, form.fade_out)
        finished = level_sound(samples, form)
    return replace(finished, notes=(*_reading_notes(source, sound.damaged, sound.heard), *finished.notes))


def _reading_notes(source: Path, damaged: bool, heard: bool) -> tuple[str, ...]:
    notes = []
    if not heard:
        notes.append(f"{source.name} has no sound in the part that is shown.")
    if damaged:
        notes.append(f"Some of the sound of {source.name} is damaged and was left out.")
    return tuple(notes)

"""Rules about what plays at start: flashing pictures and a loud sound. Only when asked: it takes seconds.

The verdict is a screening by published thresholds (WCAG 2.x SC 2.3.1, ITU-R BS.1770), no clearance.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from workbench.card.animations import Animation, read_animations
from workbench.card.paths import VolumePath
from workbench.errors import CardError, CardwrightError, MediaError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule
from workbench.media.flash_verdict import FlashVerdict

FLASHING = Rule("flashing-animation", "warning", "is an animation that may harm people with epilepsy")
LOUD = Rule("loud-sound", "warning", "is a boot sound that is loud")
RULES = (FLASHING, LOUD)

MOST_FRAMES = 3000
"""Frames that are looked at: longer ones are said to be too long."""
MOST_SOUND = 64 * 1024 * 1024
"""Bytes of a sound that are looked at."""
LOUDEST = -16.0
"""LUFS: EBU R 128 asks for -23 in broadcasts; 7 LU more is common practice for small devices, no source."""
HIGHEST = -1.0
"""dBTP that EBU R 128 allows as true peak."""


def find(card: CheckedCard) -> Iterator[Finding]:
    """Animation by animation."""
    rule = card.profile.animation
    if not card.is_thorough or rule is None or rule.folder.volume not in card.roles:
        return
    for animation in read_animations(card.tree, card.profile):
        yield from _judge_flashes(card, animation)
        if animation.sound is not None:
            yield from _judge_sound(card, animation.sound)


def _judge_flashes(card: CheckedCard, animation: Animation) -> Iterator[Finding]:
    if not animation.frames:
        return
    if len(animation.frames) > MOST_FRAMES:
        yield FLASHING.found(
            animation.folder, "has too many frames to be looked at for flashes", level="note"
        )
        return
    try:
        verdict = examine(card, animation)
    except CardwrightError as error:
        message = f"could not be looked at for flashes: {error.message}"
        yield FLASHING.found(animation.folder, message, level="note")
        return
    if not verdict.passes:
        since = float(verdict.first_failing_second or 0)
        worst = max(verdict.transitions, verdict.red_transitions)
        yield FLASHING.found(
            animation.folder,
            f"changes between light and dark {worst} times within a second, {since:.1f} seconds after its "
            "start; more than 6 times is too often",
        )


def examine(card: CheckedCard, animation: Animation) -> FlashVerdict:
    """The verdict on an animation as the device shows it.

    Raises:
        MediaError: a frame cannot be decoded.
        CardError: a frame cannot be read.
    """
    from workbench.media.codec import decode_picture
    from workbench.media.flashes import FlashAnalyser
    from workbench.media.kind_reader import read_kind

    delay = animation.pace.delay if animation.pace is not None else Fraction(35, 1000)
    analyser: FlashAnalyser | None = None
    size = (0, 0)
    for number, frame in enumerate(animation.frames):
        raw = card.tree.read(frame.at)
        picture = decode_picture(raw, read_kind(raw)).convert("RGB")
        if analyser is None:
            size = picture.size
            analyser = FlashAnalyser(*size, loops=bool(animation.loops and animation.loops > 1))
        elif picture.size != size:
            raise MediaError(f"{frame.at.name} has another size than the frames before it")
        analyser.feed(picture, number * delay)
    if analyser is None:
        raise CardError("it has no frames")
    return analyser.finish()


def _judge_sound(card: CheckedCard, at: VolumePath) -> Iterator[Finding]:
    """A WAV is measured; for what only a decoder can read, the sentence says that it was not."""
    try:
        measured = measure_wave(card.tree.read(at, MOST_SOUND))
    except (CardwrightError, ImportError) as error:
        because = error.message if isinstance(error, CardwrightError) else "numpy is not installed"
        yield LOUD.found(at, f"its loudness was not measured: {because}", level="note")
        return
    if measured is None:
        return
    loudness, peak = measured
    if loudness is not None and loudness > LOUDEST:
        yield LOUD.found(
            at, f"is at {loudness:.1f} LUFS, and more than {LOUDEST:.0f} is loud on a small device"
        )
    elif peak > HIGHEST:
        yield LOUD.found(
            at, f"its true peak is {peak:.1f} dBTP, and more than {HIGHEST:.0f} may crackle", level="note"
        )


def measure_wave(raw: bytes) -> tuple[float | None, float] | None:
    """Loudness in LUFS and true peak in dBTP of a WAV of 8 or 16 bits; None for silence.

    Raises:
        MediaError: it is no such WAV.
        ImportError: numpy is not installed.
    """
    import io
    import wave

    import numpy as np

    from workbench.media.loudness import measure_loudness
    from workbench.media.true_peak import SILENT, measure_true_peak

    try:
        with wave.open(io.BytesIO(raw)) as file:
            rate, channels, width = file.getframerate(), file.getnchannels(), file.getsampwidth()
            samples = file.readframes(file.getnframes())
    except (wave.Error, EOFError) as error:
        raise MediaError(f"it is no plain WAV ({error})") from error
    if width not in (1, 2) or channels > 2 or rate < 1000:
        raise MediaError(f"a WAV of {8 * width} bits, {channels} channels and {rate} Hz is not measured here")
    whole = len(samples) // (width * channels) * width * channels
    kinds: dict[int, tuple[str, float, float]] = {1: ("u1", 128.0, 128.0), 2: ("<i2", 0.0, 32768.0)}
    kind, middle, full = kinds[width]
    floats = (np.frombuffer(samples[:whole], kind).astype(float) - middle) / full
    floats = floats.reshape(-1, channels)
    peak = measure_true_peak(floats)
    return None if peak == SILENT else (measure_loudness(floats, rate), peak)

"""Rules about what plays at start: flashing pictures and a loud sound. Only when asked: it takes seconds.

The verdict is a screening by published thresholds (WCAG 2.x SC 2.3.1, ITU-R BS.1770), no clearance.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from workbench.card.animations import Animation, read_animations
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


def find(card: CheckedCard) -> Iterator[Finding]:
    """Animation by animation."""
    rule = card.profile.animation
    if not card.is_thorough or rule is None or rule.folder.volume not in card.roles:
        return
    for animation in read_animations(card.tree, card.profile):
        yield from _judge_flashes(card, animation)


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

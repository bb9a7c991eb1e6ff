"""Examines an animation that is on the card for flashes, as the device shows it. Reads only."""

from __future__ import annotations

from workbench.card.animation_pace import USUAL
from workbench.card.animations import read_animation, require_rule
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import EntryError, MediaError
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.animate.wish import Cancelled, OnProgress, Progress, ignore, never
from workbench.jobs.animation_frames import decode_frame
from workbench.media.flash_verdict import FlashVerdict
from workbench.shown import shown


def examine_animation(
    tree: Tree,
    profile: Profile,
    name: str,
    *,
    progress: OnProgress = ignore,
    cancelled: Cancelled = never,
) -> FlashVerdict:
    """The verdict on an animation: a screening by published thresholds (WCAG 2.2 SC 2.3.1), no clearance.

    Raises:
        EntryError: no such animation, or it has no frames.
        MediaError: a frame cannot be shown, or is of another size than those before it.
        CancelledError: the person stopped it.
    """
    from workbench.media.flashes import FlashAnalyser

    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    frames = animation.frames[: animation.shown_count]
    if not frames:
        raise EntryError(
            f"the boot animation {shown(animation.name)} has no frames", path=str(animation.folder)
        )
    delay = animation.pace.delay if animation.pace is not None else USUAL
    analyser: FlashAnalyser | None = None
    size = (0, 0)
    for number, frame in enumerate(frames):
        if cancelled():
            raise CancelledError("stopped; nothing was changed")
        progress(Progress("examining for flashes", number, len(frames)))
        picture = decode_frame(tree, profile, rule, frame.at)
        if analyser is None:
            size = picture.size
            analyser = FlashAnalyser(*size, loops=(animation.loops or 1) > 1)
        elif picture.size != size:
            raise MediaError(
                f"{frame.at} has another size than the frames before it, so they cannot be compared; "
                "bring them to one size first",
                path=str(frame.at),
            )
        analyser.feed(picture, number * delay)
    assert analyser is not None
    return analyser.finish()

"""What the page of boot animations asks for, done in worker threads. Knows nothing of Textual."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from workbench.jobs.amounts import read_number
from workbench.values import dataclass

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from PIL.Image import Image

    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.jobs.animate.wish import Cancelled, OnProgress
    from workbench.jobs.animation import AnimationFacts
    from workbench.jobs.animation_export import Exported
    from workbench.jobs.rehearsal import Rehearsal
    from workbench.media.fitting import Fit
    from workbench.media.flash_verdict import FlashVerdict
    from workbench.tui.desk import Desk, Wish

    LongPlan = Callable[[Tree, Profile, OnProgress, Cancelled], Plan]


def read_facts(desk: Desk) -> Sequence[AnimationFacts]:
    """The animations as they will be after what waits."""
    from workbench.jobs.animation import show_animations

    return show_animations(desk.tree(), desk.known_profile())


def read_frame(desk: Desk, facts: AnimationFacts, index: int) -> Image:
    """One frame, upright.

    Raises:
        MediaError, CardError: it cannot be shown.
    """
    from workbench.card.animations import require_rule
    from workbench.jobs.animation_frames import decode_frame

    profile = desk.known_profile()
    return decode_frame(desk.tree(), profile, require_rule(profile), facts.animation.frames[index].at)


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """What a verdict was found on: another count, size or pace has to be examined again."""

    name: str
    frames: tuple[tuple[int, int], ...]
    delay: Fraction | None
    loops: int | None
    tree: Tree
    """The card as it was then: another plan may put other pictures of the same size there."""


def fingerprint(desk: Desk, facts: AnimationFacts) -> Fingerprint:
    one = facts.animation
    frames = tuple((frame.number, frame.size) for frame in one.frames)
    delay = one.pace.delay if one.pace is not None else None
    return Fingerprint(one.name, frames, delay, one.loops, desk.tree())


def examine(desk: Desk, name: str, progress: OnProgress, cancelled: Cancelled) -> FlashVerdict:
    """The verdict on its flashes."""
    from workbench.jobs.animation_examine import examine_animation

    return examine_animation(desk.tree(), desk.known_profile(), name, progress=progress, cancelled=cancelled)


def rehearse_one(tree: Tree, profile: Profile, name: str) -> Rehearsal:
    """One animation alone, from its first frame.

    Raises:
        EntryError: there is no such animation.
    """
    from workbench.jobs.rehearsal import Rehearsal, rehearse
    from workbench.values import replace

    scenes = rehearse(tree, profile, name=name).scenes
    only = [replace(scene, start=Fraction(0)) for scene in scenes if scene.kind == "animation"]
    return Rehearsal(tuple(only), ())


def choose_wish(name: str | None) -> Wish:
    """That it plays at start; None for nothing."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.animation_choose import plan_choose

        return plan_choose(tree, profile, name)

    return plan


def renumber_wish(name: str) -> Wish:
    """Its frames counted anew."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.animation_numbers import plan_renumber

        return plan_renumber(tree, profile, name)

    return plan


def mend_wish(name: str, how: Literal["repeat", "close"]) -> Wish:
    """Its gaps filled or closed."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.animation_numbers import plan_mend

        return plan_mend(tree, profile, name, how)

    return plan


def remove_wish(name: str) -> Wish:
    """It, put away."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.animation_remove import plan_remove_animation

        return plan_remove_animation(tree, profile, name)

    return plan


def retiming(name: str, delay: Fraction, *, resample: bool) -> LongPlan:
    """Another pace."""

    def plan(tree: Tree, profile: Profile, progress: OnProgress, cancelled: Cancelled) -> Plan:
        from workbench.jobs.animation_retime import plan_retime

        return plan_retime(
            tree, profile, name, delay, resample=resample, progress=progress, cancelled=cancelled
        )

    return plan


def resizing(name: str, fit: Fit, background: str) -> LongPlan:
    """Every frame in the panel's size."""

    def plan(tree: Tree, profile: Profile, progress: OnProgress, cancelled: Cancelled) -> Plan:
        from workbench.jobs.animation_resize import plan_resize
        from workbench.media.colours import parse_colour

        return plan_resize(
            tree,
            profile,
            name,
            fit=fit,
            background=parse_colour(background or "#000000"),
            progress=progress,
            cancelled=cancelled,
        )

    return plan


def export(
    desk: Desk, name: str, target: Path, progress: OnProgress, cancelled: Cancelled, *, overwrite: bool
) -> Exported:
    """Write it to a file of the user's."""
    from workbench.jobs.animation_export import export_animation

    return export_animation(
        desk.tree(),
        desk.known_profile(),
        name,
        target,
        overwrite=overwrite,
        progress=progress,
        cancelled=cancelled,
    )


def read_pace_text(text: str) -> Fraction:
    """Seconds from one frame to the next, of `35`, `35 ms`, `28 fps`.

    Raises:
        UsageError: it is neither.
    """
    word = text.strip().casefold()
    for unit in ("fps", "/s"):
        if word.endswith(unit):
            return 1 / read_number(word.removesuffix(unit).strip(), "frames a second", least=Fraction(0))
    return read_number(word.removesuffix("ms").strip(), "the pace", least=Fraction(0)) / 1000

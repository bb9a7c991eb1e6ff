"""Gives an animation on the card another pace: the same frames, or as many as its time then needs."""

from __future__ import annotations

from fractions import Fraction

from workbench.card.animation_pace import Pace
from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, read_animation, read_animations, require_rule
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Remove, Step, Write, digest
from workbench.errors import EntryError, MediaError
from workbench.jobs.animate.pacing import choose_pace
from workbench.jobs.animate.run import CancelledError
from workbench.jobs.animate.setting import Facts, put_settings
from workbench.jobs.animate.sheets import Sheets
from workbench.jobs.animate.wish import Cancelled, OnProgress, Progress, ignore, never
from workbench.jobs.animation import find_gaps, show_animation
from workbench.jobs.animation_frames import frame_place, keep_frame
from workbench.shown import shown


def plan_retime(
    tree: Tree,
    profile: Profile,
    name: str,
    delay: Fraction,
    *,
    resample: bool = False,
    progress: OnProgress = ignore,
    cancelled: Cancelled = never,
) -> Plan:
    """The plan that shows each frame for another time.

    Args:
        delay: wanted seconds from one frame to the next, as shown; the nearest that can be set counts.
        resample: keep the length and take as many frames as it needs, each the one of its time.

    Raises:
        EntryError: no such animation, frames are missing, or its present pace is not known.
        MediaError: the delay is no time, or the device has no setting for it.
    """
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    pace = choose_pace(rule, read_animations(tree, profile), animation.name, delay, None).pace
    if rule.settings is None or rule.settings.pace is None:
        raise MediaError("this device has no setting for how long a frame stands; nothing was changed")
    if not animation.frames:
        raise EntryError(
            f"the boot animation {shown(animation.name)} has no frames", path=str(animation.folder)
        )
    count, steps = len(animation.frames), list[Step]()
    if resample:
        sources = _resample(rule, animation, pace)
        count = len(sources)
        steps = _move_frames(tree, rule, animation, sources, progress, cancelled)
    facts = Facts(animation.name, count, rule.frames.first, pace)
    sheets = Sheets(tree, profile)
    put_settings(sheets, rule, facts, None, None)
    title = f"Set the pace of {animation.name} to {pace.describe()}"
    plan = Plan(title, (*steps, *sheets.steps()))
    return _with_notes(tree, profile, animation, plan, count, pace, resample=resample)


def _resample(rule: AnimationRule, animation: Animation, pace: Pace) -> list[int]:
    """For each new frame the index of the one that is shown at its time now."""
    old = animation.pace
    if old is None:
        raise EntryError(
            f"the settings of {shown(animation.name)} do not say its present pace, so it cannot be "
            "sampled anew; nothing was changed. Set it first, with the frames kept.",
            path=str(animation.folder),
        )
    if find_gaps(rule, animation):
        raise EntryError(
            f"frames of {shown(animation.name)} are missing; nothing was changed. Mend them first.",
            path=str(animation.folder),
        )
    have = min(len(animation.frames), animation.shown_count)
    count = max(1, round(have * old.delay / pace.delay))
    return [min(have - 1, int(index * pace.delay / old.delay)) for index in range(count)]


def _move_frames(
    tree: Tree,
    rule: AnimationRule,
    animation: Animation,
    sources: list[int],
    progress: OnProgress,
    cancelled: Cancelled,
) -> list[Step]:
    """Writes for the frames that become another, and removals of those too many."""
    hashes = {}
    steps: list[Step] = []
    for index, frame in enumerate(animation.frames):
        if cancelled():
            raise CancelledError("stopped; nothing was changed")
        hashes[index] = digest(tree.read(frame.at))
        progress(Progress("reading frames", index + 1, len(animation.frames)))
    for index, source in enumerate(sources):
        before = hashes.get(index)
        if before == hashes[source]:
            continue
        at = animation.frames[index].at if before is not None else frame_place(rule, animation, index)
        steps.append(Write(at, keep_frame(tree.read(animation.frames[source].at)), before))
    return steps + [Remove(frame.at) for frame in animation.frames[len(sources) :]]


def _with_notes(
    tree: Tree,
    profile: Profile,
    animation: Animation,
    plan: Plan,
    count: int,
    pace: Pace,
    *,
    resample: bool,
) -> Plan:
    from workbench.values import replace

    length = count * pace.delay
    notes = [f"{count} frames in {float(length):.2f} s, one each {float(pace.delay * 1000):g} ms."]
    sound = show_animation(tree, profile, animation.name).sound_length
    if sound is not None and abs(sound - length) >= pace.delay:
        other = "" if resample else ", or give --resample to keep the length"
        notes.append(
            f"The sound plays {float(sound):.2f} s and does not fit: make it anew from its clip{other}."
        )
    return replace(plan, notes=(*plan.notes, *notes))

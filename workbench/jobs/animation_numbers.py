"""Mends the numbers of an animation's frames: counted anew without gaps, or gaps filled by neighbours.

The settings follow, so that the device shows exactly what is there.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from typing import Literal

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import (
    Animation,
    frame_name,
    frames_folder,
    read_animation,
    require_rule,
)
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Move, Plan, Step, Write
from workbench.errors import EntryError
from workbench.jobs.animate.setting import Facts, put_settings
from workbench.jobs.animate.sheets import Sheets
from workbench.jobs.animation import find_gaps
from workbench.jobs.animation_frames import keep_frame
from workbench.jobs.moving import find_taken, order_moves
from workbench.shown import shown

GapMend = Literal["repeat", "close"]


def plan_renumber(tree: Tree, profile: Profile, name: str) -> Plan:
    """The plan that counts the frames anew, from the device's first number, in the order of their numbers.

    Frames whose numbers are written with other zeros than the device looks for are taken in too.

    Raises:
        EntryError: no such animation, or it has no frames.
        ManifestError: its settings are malformed.
    """
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    loose = _find_loose(tree, rule, animation)
    if not loose:
        raise _no_frames(animation)
    folder = frames_folder(rule, animation.name)
    moves = order_moves(
        profile,
        (
            Move(at, folder.child(frame_name(rule, animation.name, rule.frames.first + index)))
            for index, at in enumerate(loose)
        ),
    )
    conflicts = find_taken(
        tree, profile, [Move(at, to) for at, to in _ends(loose, rule, animation)], but=_nobody
    )
    title = f"Number the frames of {animation.name} anew"
    steps, notes = _with_settings(tree, profile, rule, animation, list(moves), len(loose))
    return Plan(
        title, steps, conflicts=tuple(conflicts), notes=notes or _nothing(steps, "Its numbers are right.")
    )


def plan_mend(tree: Tree, profile: Profile, name: str, how: GapMend = "repeat") -> Plan:
    """The plan that fills each gap with the frame before it, or closes it up; and sets the count right.

    Raises:
        EntryError: no such animation, or it has no frames.
        ManifestError: its settings are malformed.
    """
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    if not animation.frames:
        raise _no_frames(animation)
    if how == "close":
        return plan_renumber(tree, profile, name)
    numbers = [frame.number for frame in animation.frames]
    inner = [number for number in find_gaps(rule, animation) if number < numbers[-1]]
    folder = frames_folder(rule, animation.name)
    steps: list[Step] = []
    for gap in inner:
        before = animation.frames[max(0, bisect_left(numbers, gap) - 1)]
        content = keep_frame(tree.read(before.at))
        steps.append(Write(folder.child(frame_name(rule, animation.name, gap)), content, None))
    count = numbers[-1] - rule.frames.first + 1
    done, notes = _with_settings(tree, profile, rule, animation, steps, count)
    title = f"Mend the frames of {animation.name}"
    said = f"{len(inner)} missing frames repeat the one before." if inner else ""
    return Plan(
        title, done, notes=tuple(filter(None, (said, *notes))) or _nothing(done, "No frame is missing.")
    )


def _find_loose(tree: Tree, rule: AnimationRule, animation: Animation) -> list[VolumePath]:
    """Every numbered picture of the pattern, whatever zeros its number is written with, by number."""
    folder = frames_folder(rule, animation.name)
    pattern = rule.frames.pattern.rpartition("/")[2].replace("{name}", animation.name)
    before, _, after = pattern.partition("{n}")
    fits = re.compile(re.escape(before) + r"([0-9]{1,9})" + re.escape(after), re.IGNORECASE)
    if tree.stat(folder) is None:
        return []
    found = [
        (int(match[1]), item.name, item.at)
        for item in tree.list(folder)
        if (match := fits.fullmatch(item.name))
    ]
    return [at for _, _, at in sorted(found)]


def _ends(
    loose: list[VolumePath], rule: AnimationRule, animation: Animation
) -> list[tuple[VolumePath, VolumePath]]:
    folder = frames_folder(rule, animation.name)
    return [
        (at, folder.child(frame_name(rule, animation.name, rule.frames.first + index)))
        for index, at in enumerate(loose)
    ]


def _nobody(_at: VolumePath) -> bool:
    return False


def _with_settings(
    tree: Tree, profile: Profile, rule: AnimationRule, animation: Animation, steps: list[Step], count: int
) -> tuple[tuple[Step, ...], tuple[str, ...]]:
    """The steps and those that set the count; a pace that is not known stays unknown."""
    sheets = Sheets(tree, profile)
    if rule.settings is None or animation.pace is None:
        said = "" if rule.settings is None else "Its settings do not say its pace; set it with retime."
        return tuple(steps), tuple(filter(None, [said]))
    facts = Facts(animation.name, count, rule.frames.first, animation.pace)
    put_settings(sheets, rule, facts, None, None)
    return (*steps, *sheets.steps()), ()


def _nothing(steps: tuple[Step, ...], sentence: str) -> tuple[str, ...]:
    return () if steps else (sentence,)


def _no_frames(animation: Animation) -> EntryError:
    return EntryError(
        f"the boot animation {shown(animation.name)} has no frames; nothing was changed",
        path=str(animation.folder),
    )

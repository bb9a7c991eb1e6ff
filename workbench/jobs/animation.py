"""Shows a boot animation that is on the card: what it is, and what is wrong with it."""

from __future__ import annotations

from fractions import Fraction
from typing import Literal

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import (
    Animation,
    frame_name,
    frames_folder,
    read_animation,
    read_animations,
    require_rule,
    require_volume,
)
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardError, MediaError
from workbench.jobs.animation_frames import read_frame_kind, stored_size
from workbench.jobs.animation_sound import measure_sound
from workbench.shown import shown
from workbench.values import dataclass

ProblemRule = Literal[
    "settings-unreadable",
    "no-settings",
    "count-differs",
    "no-pace",
    "gap",
    "no-frames",
    "frame-unreadable",
    "frame-size",
    "sound-length",
    "sound-unreadable",
    "chosen-missing",
]


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong."""

    rule: ProblemRule
    at: VolumePath
    message: str
    remedy: str = ""
    """Which command mends it, in a word: `renumber`, `mend`, `resize`, `retime`; empty where none does."""


@dataclass(frozen=True, slots=True)
class AnimationFacts:
    """One animation, measured."""

    animation: Animation
    size: tuple[int, int] | None
    """Pixels of the first frame as it is stored; None where it cannot be read."""
    kind: str
    """How its frames are stored, in words."""
    bytes: int
    """Of frames and sound."""
    length: Fraction | None
    """Seconds that the device shows it; None where its pace is not known."""
    sound_length: Fraction | None
    problems: tuple[Problem, ...]


def show_animation(tree: Tree, profile: Profile, name: str) -> AnimationFacts:
    """One animation with its problems.

    Raises:
        EntryError, ProfileError, CardError: no such animation; no rule for any; its volume is absent.
    """
    rule = require_rule(profile)
    return _measure(tree, profile, rule, read_animation(tree, profile, name))


def show_animations(tree: Tree, profile: Profile) -> tuple[AnimationFacts, ...]:
    """Every animation on the card.

    Raises:
        ProfileError, CardError: the profile knows none; their volume is absent.
    """
    rule = require_rule(profile)
    require_volume(tree, rule)
    return tuple(_measure(tree, profile, rule, one) for one in read_animations(tree, profile))


def find_gaps(rule: AnimationRule, animation: Animation) -> tuple[int, ...]:
    """Numbers of frames that the device will look for and not find."""
    there = {frame.number for frame in animation.frames}
    first = rule.frames.first
    end = max(there, default=first - 1) + 1
    if animation.count is not None:
        end = max(end, first + min(animation.count, 100_000))
    return tuple(number for number in range(first, end) if number not in there)


def _measure(tree: Tree, profile: Profile, rule: AnimationRule, animation: Animation) -> AnimationFacts:
    problems = [*_find_in_settings(rule, animation), *_find_in_numbers(rule, animation)]
    size, kind, found = _look_at_frames(tree, profile, rule, animation)
    problems += found
    length = animation.pace.delay * animation.shown_count if animation.pace is not None else None
    sound, sound_bytes, said = _look_at_sound(tree, animation, length)
    problems += said
    total = sum(frame.size for frame in animation.frames) + sound_bytes
    return AnimationFacts(animation, size, kind, total, length, sound, tuple(problems))


def _find_in_settings(rule: AnimationRule, animation: Animation) -> list[Problem]:
    settings = rule.settings
    if settings is None:
        return []
    at = animation.settings or animation.folder
    if animation.fault:
        return [Problem("settings-unreadable", at, animation.fault)]
    if animation.settings is None:
        return [
            Problem("no-settings", at, "its settings are not there, so the device cannot play it", "retime")
        ]
    problems = []
    if settings.pace is not None and animation.pace is None:
        problems.append(Problem("no-pace", at, "its settings do not say how long a frame stands", "retime"))
    known = animation.count
    if known is None and (settings.count is not None or settings.last is not None):
        problems.append(
            Problem("count-differs", at, "its settings do not say how many frames there are", "mend")
        )
    elif known is not None and animation.frames and known < len(animation.frames):
        message = (
            f"its settings say {known} frames and {len(animation.frames)} are there: the rest is not shown"
        )
        problems.append(Problem("count-differs", at, message, "mend"))
    return problems


def _find_in_numbers(rule: AnimationRule, animation: Animation) -> list[Problem]:
    folder = frames_folder(rule, animation.name)
    if not animation.frames:
        return [Problem("no-frames", folder, f"no frame such as {_example(rule, animation)} is there")]
    gaps = find_gaps(rule, animation)
    if not gaps:
        return []
    names = [frame_name(rule, animation.name, number) for number in gaps[:3]]
    more = f" and {len(gaps) - 3} more" if len(gaps) > 3 else ""
    place = folder.child(names[0])
    return [Problem("gap", place, f"frames are missing: {shown(', '.join(names))}{more}", "mend")]


def _example(rule: AnimationRule, animation: Animation) -> str:
    return shown(frame_name(rule, animation.name, rule.frames.first))


def _look_at_frames(
    tree: Tree, profile: Profile, rule: AnimationRule, animation: Animation
) -> tuple[tuple[int, int] | None, str, list[Problem]]:
    """Size and kind of the first frame that can be read, and every frame that is unlike what is wanted."""
    wanted = stored_size(profile, rule)
    size, words, problems = None, "", []
    for frame in animation.frames:
        try:
            kind = read_frame_kind(tree, profile, rule, frame)
        except (MediaError, CardError) as error:
            problems.append(Problem("frame-unreadable", frame.at, f"it cannot be shown: {error.message}"))
            continue
        here = kind.width, kind.height
        if size is None:
            size, words = here, kind.describe()
        if kind.container != rule.frames.format:
            message = f"it is {kind.container.upper()}, not {rule.frames.format.upper()}"
            problems.append(Problem("frame-unreadable", frame.at, message, "resize"))
        elif here != wanted:
            message = f"it is {here[0]}×{here[1]}, not {wanted[0]}×{wanted[1]}"
            problems.append(Problem("frame-size", frame.at, message, "resize"))
    return size, words, problems


def _look_at_sound(
    tree: Tree, animation: Animation, length: Fraction | None
) -> tuple[Fraction | None, int, list[Problem]]:
    at = animation.sound
    if at is None:
        return None, 0, []
    item = tree.stat(tree.resolve(at))
    size = item.size if item is not None else 0
    try:
        sound = measure_sound(tree.read(at), at.name)
    except MediaError as error:
        return None, size, [Problem("sound-unreadable", at, error.message)]
    if sound is None or length is None or animation.pace is None:
        return sound, size, []
    apart = sound - length
    if abs(apart) < animation.pace.delay:
        return sound, size, []
    word = "longer" if apart > 0 else "shorter"
    message = f"the sound is {abs(float(apart)):.2f} s {word} than the frames are shown"
    return sound, size, [Problem("sound-length", at, message, "retime")]

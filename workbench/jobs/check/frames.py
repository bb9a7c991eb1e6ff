"""Rules about boot animations: gaps and odd frames, and settings that disagree with the frames."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import partial

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import (
    Animation,
    frame_name,
    place,
    pointer,
    read_animation,
    read_animations,
    read_chosen,
)
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Edit, Plan, Write, digest
from workbench.errors import CardError, MediaError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.pictures import read_size
from workbench.jobs.check.rule import Rule
from workbench.manifests.opening import edit_document, open_document
from workbench.manifests.selector import Selector
from workbench.shown import shown

GAP = Rule("frame-gap", "error", "is an animation with numbers missing between its frames")
ODD = Rule("frame-size", "warning", "is a frame of another size than the others")
COUNT = Rule("frame-count", "error", "is an animation whose settings count other frames than are there")
PACE = Rule("frame-pace", "warning", "is an animation whose settings do not say how fast it plays")
CHOSEN = Rule("missing-animation", "error", "chooses an animation that is not there")
RULES = (GAP, ODD, COUNT, PACE, CHOSEN)

_HEAD = 64 * 1024


def find(card: CheckedCard) -> Iterator[Finding]:
    """Animation by animation, then the one that is chosen."""
    rule = card.profile.animation
    if rule is None or rule.folder.volume not in card.roles:
        return
    there = read_animations(card.tree, card.profile)
    for animation in there:
        yield from _find_gaps(rule, animation)
        yield from _judge_settings(rule, animation)
        yield from _find_odd(card, animation)
    yield from _judge_chosen(card, rule, there)


def _find_gaps(rule: AnimationRule, animation: Animation) -> Iterator[Finding]:
    numbers = [frame.number for frame in animation.frames]
    if not numbers:
        yield GAP.found(animation.folder, "has settings and no frames")
        return
    first = rule.frames.first
    wanted = range(first, first + len(numbers))
    if numbers == list(wanted):
        return
    gap = next(number for number in wanted if number not in set(numbers))
    remedy = Remedy("number the frames anew, without a gap", partial(_plan_numbers, animation.name))
    name = frame_name(rule, animation.name, gap)
    yield GAP.found(
        animation.folder, f"has no {shown(name)}, so the device stops there or stays on", remedy=remedy
    )


def _plan_numbers(name: str, tree: Tree, profile: Profile) -> Plan:
    """As `animation renumber`: it keeps the order, and lets the settings count what is there."""
    from workbench.jobs.animation_numbers import plan_renumber

    return plan_renumber(tree, profile, name)


def _judge_settings(rule: AnimationRule, animation: Animation) -> Iterator[Finding]:
    wanted, settings = rule.settings, animation.settings
    if wanted is None or settings is None or animation.fault or not animation.frames:
        return
    has_count = wanted.count is not None or wanted.last is not None
    there = len(animation.frames)
    if has_count and animation.count != there:
        said = "does not say how many frames there are" if animation.count is None else None
        message = said or f"counts {animation.count} frames, and {there} are there"
        words = f"let it count {there} frames"
        remedy = Remedy(words, partial(_plan_count, animation.name)) if animation.count is not None else None
        yield COUNT.found(settings, message, remedy=remedy)
    if wanted.pace is not None and animation.pace is None:
        yield PACE.found(settings, "does not say how long a frame is shown, or says it as no number above 0")


def _plan_count(name: str, tree: Tree, profile: Profile) -> Plan:
    """Set the count, or the number of the last frame, to what is there.

    Raises:
        ManifestError, EntryError: the settings cannot be edited; the animation is not there.
    """
    title = f"Let the settings of {name} count its frames"
    rule = profile.animation
    if rule is None or rule.settings is None:
        return Plan(title, ())
    animation = read_animation(tree, profile, name)
    wanted, there = rule.settings, len(animation.frames)
    at = place(wanted.file, name)
    raw = tree.read(at)
    document = open_document(raw, wanted.format, str(at), profile.variables)
    edits: list[Edit] = []
    for selector, value in ((wanted.count, there), (wanted.last, rule.frames.first + there - 1)):
        where = _where(selector, name)
        if where is not None:
            has = document.get(where)
            edits += document.set(where, str(value) if isinstance(has, str) else value)
    after = edit_document(document, edits, path=str(at), variables=profile.variables)
    if after == raw:
        return Plan(title, ())
    return Plan(title, (Write(tree.resolve(at), after, digest(raw), tuple(edits)),))


def _where(selector: Selector | None, name: str) -> str | None:
    return pointer(selector, name) if selector is not None else None


def _find_odd(card: CheckedCard, animation: Animation) -> Iterator[Finding]:
    """Frames of another size than most; an unreadable one is as bad."""
    sizes: dict[VolumePath, tuple[int, int]] = {}
    for frame in animation.frames:
        try:
            size = read_size(card.tree.read(frame.at, _HEAD if frame.at.name[-4:].lower() != ".png" else 32))
        except CardError:
            continue
        except MediaError as error:
            yield ODD.found(frame.at, f"is no picture: {error.message}")
            continue
        if size is not None:
            sizes[frame.at] = size
    if not sizes:
        return
    usual = Counter(sizes.values()).most_common(1)[0][0]
    for at, size in sizes.items():
        if size != usual:
            yield ODD.found(at, f"is {size[0]}×{size[1]}, and the other frames are {usual[0]}×{usual[1]}")


def _judge_chosen(card: CheckedCard, rule: AnimationRule, there: tuple[Animation, ...]) -> Iterator[Finding]:
    if rule.chosen is None or rule.chosen.file.volume not in card.roles:
        return
    name = read_chosen(card.tree, card.profile)
    if name is None or any(animation.is_chosen for animation in there):
        return
    at = VolumePath(rule.chosen.file.volume, rule.chosen.file.path)
    yield CHOSEN.found(at, f"chooses the animation {shown(name)!r}, which is not there")

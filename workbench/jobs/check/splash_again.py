"""The remedy for a splash that the device could not show: the same picture, made as the profile wants it."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from workbench.card.profile import Profile, SplashRule
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.jobs.check.finding import Remedy
from workbench.jobs.splash_target import SplashTarget, find_targets, profile_hint
from workbench.media.fitting import turn_clockwise
from workbench.media.kind import SplashKind
from workbench.media.kind_reader import Hint

if TYPE_CHECKING:
    from PIL.Image import Image

    from workbench.jobs.splash import SplashReport


def making_again(profile: Profile, rule: SplashRule, kind: SplashKind) -> Remedy | None:
    """None where the profile does not say what the device reads."""
    if rule.kind.get("container") is None or kind.is_run_length:
        return None
    hint = profile_hint(profile, rule)
    words = f"make it again, {hint['width']}×{hint['height']} and in the kind that the device reads"
    return Remedy(words, partial(_plan, rule.moment))


def _plan(moment: str, tree: Tree, profile: Profile) -> Plan:
    """The picture is fitted whole into the panel; what is beside it is black.

    Raises:
        MediaError: it cannot be decoded, or the result would be too large for the device.
        EntryError, CardError: no such moment; its volume is not there.
    """
    from workbench.jobs.splash import plan_rendered, show, view
    from workbench.media.fitting import fit_picture

    title = f"Make the splash of {moment} again"
    report = show(tree, profile, moment)
    rule = next(one for one in profile.splashes if one.moment == moment)
    hint = profile_hint(profile, rule)
    if report.kind is None or not _is_wrong(report, rule, hint):
        return Plan(title, ())
    picture = view(report)
    if (report.kind.height, report.kind.width) == (hint["width"], hint["height"]):
        picture = turn_clockwise(picture, report.rotate)  # it was stored as it is to be seen
    targets, notes = find_targets(tree, profile, (moment,), hint)

    def render(target: SplashTarget) -> Image:
        return fit_picture(picture, *target.seen_size, "contain", (0, 0, 0))

    return plan_rendered(tree, profile, title, targets, render, "ordered", notes)


def _is_wrong(report: SplashReport, rule: SplashRule, hint: Hint) -> bool:
    """Whether there is anything left to mend: two findings may be of one splash."""
    from workbench.jobs.check.splashes import judge_kind

    assert report.kind is not None
    is_heavy = rule.max_bytes is not None and report.kind.size > rule.max_bytes
    return is_heavy or any(True for _ in judge_kind(report.at, rule, report.kind, hint))

"""Mends findings: many remedies as one plan, each planned on the card as the ones before leave it.

Invariant: mending never creates a finding. The card as it would be is checked; a remedy after which there is
anything new is left out, and said so.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence, Set

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Move, Plan
from workbench.errors import CardwrightError
from workbench.jobs.check.checking import check_card
from workbench.jobs.check.finding import Finding, Remedy
from workbench.jobs.check.registry import FAMILIES
from workbench.values import dataclass, replace

MOST_IN_FILE = 20_000
"""Dead references of one sort in one file that are mended in one go."""


Identity = tuple[str, VolumePath, str]
"""What a finding is known by; see `Finding.identity`."""


@dataclass(frozen=True, slots=True)
class Left:
    """A finding that could not be mended, and why."""

    finding: Finding
    because: str


@dataclass(frozen=True, slots=True)
class Mending:
    """What mending comes to."""

    plan: Plan
    mended: tuple[Finding, ...]
    left: tuple[Left, ...]


def plan_mends(tree: Tree, profile: Profile, findings: Sequence[Finding]) -> Mending:
    """One plan for all of these findings that have a remedy.

    A long file lists only its first findings of a sort: with them go those that were not listed.
    """
    before = check_card(tree, profile, most_in_file=MOST_IN_FILE)
    known = {one.identity for one in before}
    wanted = _in_order(_with_unlisted(findings, before))
    mending = _plan_all(tree, profile, wanted)
    if not mending.plan.steps:
        return mending
    after = check_card(mending.plan.on(tree), profile, most_in_file=MOST_IN_FILE)
    if _has_new(mending.plan, after, known):
        return _plan_carefully(tree, profile, wanted, known)
    return mending


def _with_unlisted(findings: Sequence[Finding], everything: Sequence[Finding]) -> list[Finding]:
    """What was asked for, and all that is of the same rule and level in the same file."""
    asked = [one for one in findings if one.remedy is not None]
    kinds = {(one.rule, one.level, one.at) for one in asked}
    known = set(asked)
    more = [one for one in everything if (one.rule, one.level, one.at) in kinds and one not in known]
    return [*asked, *(one for one in more if one.remedy is not None)]


def plan_mend(tree: Tree, profile: Profile, finding: Finding) -> Plan:
    """The plan that mends one finding.

    Raises:
        CardwrightError: it cannot be mended.
    """
    assert finding.remedy is not None
    return finding.remedy.plan(tree, profile)


def _in_order(findings: Iterable[Finding]) -> list[Finding]:
    """By family, in the registry's order: first what others can only be mended after."""
    place = {rule.name: number for number, family in enumerate(FAMILIES) for rule in family.rules}
    return sorted(findings, key=lambda one: (place[one.rule], one.at, one.line or 0))


def _plan_all(tree: Tree, profile: Profile, wanted: Sequence[Finding]) -> Mending:
    plan, now = Plan("", ()), tree
    mended: list[Finding] = []
    left: list[Left] = []
    for group in _group(wanted):
        step, because = _plan_group(now, profile, group)
        if step is None:
            left += (Left(one, because) for one in group)
            continue
        mended += group
        if step.steps:
            plan = plan.then(step)
            now = plan.on(tree)
    return Mending(_titled(plan, len(mended)), tuple(mended), tuple(left))


def _plan_group(tree: Tree, profile: Profile, group: Sequence[Finding]) -> tuple[Plan | None, str]:
    remedy = group[0].remedy
    assert remedy is not None
    try:
        if remedy.together is not None:
            step = remedy.together(
                tree, profile, [one.remedy.what for one in group if one.remedy is not None]
            )
        else:
            step = remedy.plan(tree, profile)
    except CardwrightError as error:
        return None, error.message
    if step.conflicts:
        return None, step.conflicts[0].because
    return step, ""


def _group(wanted: Sequence[Finding]) -> list[list[Finding]]:
    """Findings whose remedies can be joined, together; every other one by itself."""
    groups: dict[object, list[Finding]] = {}
    for number, one in enumerate(wanted):
        remedy: Remedy | None = one.remedy
        is_joined = remedy is not None and remedy.together is not None
        key: object = (one.at, remedy.together) if is_joined and remedy is not None else number
        groups.setdefault(key, []).append(one)
    return list(groups.values())


def _titled(plan: Plan, count: int) -> Plan:
    if not plan.steps:
        return replace(plan, title="Mend nothing")
    return replace(plan, title="Mend one finding" if count == 1 else f"Mend {count} findings")


def trace_back(plan: Plan, finding: Finding) -> Identity:
    """What a finding after a plan is known by before it: the place is where the thing stood then."""
    rule, at, message = finding.identity
    for step in reversed(plan.steps):
        if isinstance(step, Move) and (at == step.to or at.is_below(step.to)):
            rest = at.path[len(step.to.path) :].lstrip("/")
            at = step.source.child(rest) if rest else step.source
    return rule, at, message


def _has_new(plan: Plan, after: Sequence[Finding], known: Set[Identity]) -> bool:
    return any(trace_back(plan, one) not in known for one in after)


def _plan_carefully(tree: Tree, profile: Profile, wanted: Sequence[Finding], known: Set[Identity]) -> Mending:
    """Group by group, each checked: what would create a finding is left."""
    plan, now = Plan("", ()), tree
    mended: list[Finding] = []
    left: list[Left] = []
    for group in _group(wanted):
        step, because = _plan_group(now, profile, group)
        if step is not None and step.steps:
            then = plan.then(step)
            if _has_new(then, check_card(then.on(tree), profile, most_in_file=MOST_IN_FILE), known):
                step, because = None, "mending it would put something else wrong"
        if step is None:
            left += (Left(one, because) for one in group)
            continue
        mended += group
        if step.steps:
            plan = plan.then(step)
            now = plan.on(tree)
    return Mending(_titled(plan, len(mended)), tuple(mended), tuple(left))

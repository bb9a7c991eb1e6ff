"""Checks a card by every rule. Reads only; what one rule has read, the others need not read again."""

from __future__ import annotations

from collections.abc import Sequence

from workbench.card.health import CardHealth
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.jobs.check.checked_card import MOST_IN_FILE, CheckedCard
from workbench.jobs.check.finding import LEVELS, Finding, Level, is_at_least
from workbench.jobs.check.registry import FAMILIES, RULES


def check_card(
    tree: Tree,
    profile: Profile,
    health: CardHealth | None = None,
    *,
    rules: frozenset[str] | None = None,
    is_thorough: bool = False,
    most_in_file: int = MOST_IN_FILE,
) -> tuple[Finding, ...]:
    """Everything that the rules find, the gravest first, then rule by rule, then by place.

    Args:
        health: what was found out about volumes and ledger; without it, rules about them are silent.
        rules: only these, by name.
        is_thorough: also play animations, and read every file to its end.
        most_in_file: dead references of one sort in one file that are listed.
    """
    card = CheckedCard(tree, profile, health, is_thorough=is_thorough, most_in_file=most_in_file)
    found = [
        finding
        for family in FAMILIES
        if rules is None or any(rule.name in rules for rule in family.rules)
        for finding in family.find(card)
        if rules is None or finding.rule in rules
    ]
    return sort_findings(dict.fromkeys(found))


def sort_findings(findings: dict[Finding, None] | Sequence[Finding]) -> tuple[Finding, ...]:
    """The gravest first, then by rule in the order of the registry, then by place."""
    place = {name: number for number, name in enumerate(RULES)}
    return tuple(
        sorted(
            findings,
            key=lambda one: (LEVELS.index(one.level), place[one.rule], one.at, one.line or 0, one.message),
        )
    )


def count_levels(findings: Sequence[Finding]) -> dict[Level, int]:
    """How many there are of each level."""
    return {level: sum(1 for one in findings if one.level == level) for level in LEVELS}


def has_level(findings: Sequence[Finding], level: Level) -> bool:
    """Whether any is as grave as that, or graver."""
    return any(is_at_least(one.level, level) for one in findings)

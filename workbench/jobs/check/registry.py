"""The one registry of rules: each family of rules is a module with its `RULES` and one `find`."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from workbench.errors import UsageError
from workbench.jobs.check import (
    documents,
    frames,
    health,
    ledger,
    links_out,
    litter,
    motion,
    names,
    pictures,
    prefixes,
    references,
    registers,
    scripts,
    space,
    splashes,
)
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Family:
    """Rules that look at the same things."""

    rules: tuple[Rule, ...]
    find: Callable[[CheckedCard], Iterator[Finding]]


FAMILIES: tuple[Family, ...] = tuple(
    Family(module.RULES, module.find)
    for module in (
        ledger,
        health,
        documents,
        scripts,
        references,
        registers,
        frames,
        motion,
        splashes,
        pictures,
        names,
        prefixes,
        links_out,
        litter,
        space,
    )
)
"""In the order of listing and mending: a manifest has to be well formed before it is edited."""

RULES: Mapping[str, Rule] = {rule.name: rule for family in FAMILIES for rule in family.rules}
"""By name; the names are stable."""


def require_rules(names: tuple[str, ...]) -> frozenset[str]:
    """These names, all of them known; every rule where none is given.

    Raises:
        UsageError: no rule has that name, with the closest.
    """
    for name in names:
        if name not in RULES:
            from difflib import get_close_matches

            close = get_close_matches(name, RULES, 1)
            hint = f" Did you mean {close[0]}?" if close else f" There are: {', '.join(RULES)}."
            raise UsageError(f"there is no rule {name!r}.{hint}")
    return frozenset(names or RULES)

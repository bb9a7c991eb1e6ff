"""Rules about what orders a menu: stacked prefixes, and signs that sort where nobody expects them."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.entry import Entry, Menu
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.remedies import renaming
from workbench.jobs.check.rule import Rule
from workbench.order.prefixes import SEPARATORS, split_prefix

STACKED = Rule("stacked-prefix", "note", "has a prefix in front of a prefix")
UNDERSCORE = Rule("surprising-order", "note", "sorts elsewhere than where most people would look for it")
RULES = (STACKED, UNDERSCORE)

_BETWEEN = "[\\]^_`"
"""ASCII between the capitals and the small letters: byte order and lower-case folding part ways there."""


def find(card: CheckedCard) -> Iterator[Finding]:
    """Entry by entry."""
    for menu in card.menus:
        for entry in menu.entries:
            yield from _find_stacked(menu, entry)
        yield from _find_surprises(menu)


def _find_stacked(menu: Menu, entry: Entry) -> Iterator[Finding]:
    if not entry.prefix:
        return
    separators = tuple(one for one in dict.fromkeys((menu.rule.prefix.separator, *SEPARATORS)) if one)
    rest = entry.name[len(entry.prefix) :]
    inner, bare = split_prefix(entry.stem[len(entry.prefix) :], separators)
    if not inner or not bare.strip():
        return
    better = entry.prefix + rest[len(inner) :]
    taken = {other.name.casefold() for other in menu.entries}
    remedy = None
    if better.casefold() not in taken:
        remedy = renaming(menu.id, entry.name, better)
    yield STACKED.found(
        entry.at, f"has the prefix {entry.prefix!r} in front of the prefix {inner!r}", remedy=remedy
    )


def _find_surprises(menu: Menu) -> Iterator[Finding]:
    """`_` comes before all letters where case is folded down, after capitals in byte order."""
    if menu.order not in ("letters", "letters-up", "bytes"):
        return
    has_letters = any(entry.name[:1].isalpha() for entry in menu.entries)
    for entry in menu.entries:
        first = entry.name[:1]
        if first and first in _BETWEEN and has_letters:
            where = {
                "letters": "before all letters",
                "letters-up": "after all letters",
                "bytes": "after capitals and before small letters",
            }[menu.order]
            yield UNDERSCORE.found(
                entry.at, f"begins with {first!r}, which this device sorts {where}; another device does not"
            )

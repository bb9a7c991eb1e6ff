"""Tells from the names of a menu what prefixes its owner has used so far."""

from __future__ import annotations

from collections import Counter
from typing import Literal

from workbench.jobs.survey.roster import MenuGuess
from workbench.order.prefixes import split_prefix
from workbench.values import dataclass

_SHARE = 0.3
"""A few numbered names among many are titles, not prefixes."""


@dataclass(frozen=True, slots=True)
class PrefixGuess:
    """One form of prefixes."""

    style: Literal["numbers", "letters"]
    separator: str
    count: int
    example: str
    confidence: float


def find_prefix(menu: MenuGuess) -> PrefixGuess | None:
    """The form that a fair share of the names has; None where there is none."""
    names = list(menu.names.values())
    votes: Counter[tuple[Literal["numbers", "letters"], str]] = Counter()
    examples: dict[tuple[Literal["numbers", "letters"], str], str] = {}
    for name in names:
        prefix, _ = split_prefix(name, siblings=names[:200])
        token, separator = prefix[:-1], prefix[-1:]
        style: Literal["numbers", "letters"] | None = None
        if token.isdigit():
            style = "numbers"
        elif token.isalpha() and token.islower():
            style = "letters"
        if style is not None:
            votes[style, separator] += 1
            examples.setdefault((style, separator), name)
    if not votes:
        return None
    best, count = votes.most_common(1)[0]
    if count < max(2, _SHARE * len(names)):
        return None
    return PrefixGuess(*best, count, examples[best], min(0.9, 0.3 + count / len(names)))

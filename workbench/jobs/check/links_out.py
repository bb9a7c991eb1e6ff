"""The rule about links that lead out of their volume, nowhere, or in a circle."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.remedies import putting_away
from workbench.jobs.check.rule import Rule

LINK = Rule("bad-link", "warning", "is a link that cannot be followed on this card")
RULES = (LINK,)


def find(card: CheckedCard) -> Iterator[Finding]:
    """Every link that leads nowhere on its volume. One that leads out may lead somewhere on the device."""
    for volume in card.roles:
        for link in card.places.links(volume):
            if link.to is None:
                is_dead = "out of" not in link.because
                remedy = putting_away(link.at, "put the link away") if is_dead else None
                yield LINK.found(link.at, f"{link.because}; it was not followed", remedy=remedy)

"""A card's health in lines: what is not as it should be on each volume, and what takes the room."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from workbench.tui.costs import size_words
from workbench.tui.lines import Line, wrap

if TYPE_CHECKING:
    from workbench.card.health import CardHealth
    from workbench.jobs.health import Share

MOST_SHARES = 8


def health_lines(health: CardHealth, shares: Sequence[Share], width: int) -> Iterator[Line]:
    """Signs of trouble, or that none is seen; then the largest parts of what is taken."""
    if health.ledger is not None and health.ledger.unfinished:
        said = f"! {health.ledger.unfinished} is unfinished: open the card to finish it or to take it back"
        yield from (Line.of((part, "problem")) for part in wrap(said, width, indent="  "))
    for volume in health.volumes:
        for sign in volume.signs:
            said = f"! {volume.role}: {sign}"
            yield from (Line.of((part, "problem")) for part in wrap(said, width, indent="  "))
        if not volume.signs:
            yield Line.of((f"{volume.role}: nothing wrong is seen", "good"))
        if volume.because:
            said = f"whether {volume.role} was closed in order is not known: {volume.because}"
            yield from (Line.of((part, "muted")) for part in wrap(said, width, indent="  "))
    for share in shares[:MOST_SHARES]:
        yield Line.of(share.words, right=[(size_words(share.bytes), "strong")])
    rest = sum(share.bytes for share in shares[MOST_SHARES:])
    if rest:
        yield Line.of(("and all the others", "muted"), right=[(size_words(rest), "strong")])

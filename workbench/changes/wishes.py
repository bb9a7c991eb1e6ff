"""What a card's history meant, as wishes that can be carried out on other cards."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from workbench.card.volumes import Card
from workbench.changes.ledger import read_book
from workbench.values import dataclass, field


@dataclass(slots=True)
class Recorded:
    """The wishes of the changes that stand, in their order."""

    wishes: list[Mapping[str, Any]] = field(default_factory=list)
    left: list[str] = field(default_factory=list)
    """Sentences about what no routine can say."""


def record_wishes(card: Card, first: int = 1) -> Recorded:
    """From the change of that number on; what was taken back, and the undo of it, count for nothing."""
    found = Recorded()
    book = read_book(card)
    taken_back = {change for record in book.done for change in record.undoes}
    for record in book.done:
        if record.number < first or book.undone_by(record.id) is not None:
            continue
        if record.undoes:
            if taken_back.intersection(record.undoes) and _is_partial(record.title):
                found.left.append(f"change {record.number}: {record.title}")
            continue
        found.wishes += record.wishes
        parts = record.unwished if record.wishes or record.unwished else (record.title,)
        found.left += [f"change {record.number}: {title}" for title in parts if title]
    return found


def _is_partial(title: str) -> bool:
    return title.endswith("(in part)")

"""Which changes a waiting plan still needs: it moves something out of what they keep, or writes it."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.ledger import CHANGES
from workbench.changes.plan import place_of
from workbench.changes.steps import Prepared, Step, Write
from workbench.changes.waiting_plans import load_waiting


def find_needed(card: Card) -> dict[str, str]:
    """Ids of the changes whose kept copies the card's waiting plan needs, with the reason.

    Raises:
        LedgerError: the waiting plan cannot be understood, so that it is not certain.
    """
    needed = {}
    for wish in load_waiting(card):
        for step in wish.steps:
            for place in _places(card, step):
                if place.startswith(f"{CHANGES}/"):
                    change = place.removeprefix(f"{CHANGES}/").partition("/")[0]
                    needed[change] = "a plan that waits to be written needs them; write or drop it first"
    return needed


def _places(card: Card, step: Step) -> Iterator[str]:
    """Paths on a volume that a step takes something from."""
    yield place_of(step).path
    if isinstance(step, Write) and isinstance(step.content, Prepared):
        for volume in card.present:
            inner = step.content.file.removeprefix(f"{volume.root}/")
            if inner != step.content.file:
                yield VolumePath(volume.role, inner).path

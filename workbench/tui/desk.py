"""The card that is being worked on, and the plan that waits for it. Knows nothing of Textual.

Invariant: `tree()` is the card as it will be after the waiting plan, so whatever is read from it is what
the device will show, and whatever is planned on it comes after the wishes that wait already. Methods that
read the card are slow: they are called in worker threads.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from workbench.card.disk_tree import DiskTree
from workbench.tui.waiting import Outcome, Waiting, outcome_of

if TYPE_CHECKING:
    from workbench.card.menu import Entry, Menu
    from workbench.card.profile import Profile
    from workbench.card.references import Found
    from workbench.card.tree import Tree
    from workbench.card.volumes import Card
    from workbench.changes.plan import Plan

Wish = Callable[["Tree", "Profile"], "Plan"]
"""What a person asks for: plans itself on a tree."""


class Desk:
    """One card, its profile, and its waiting plan."""

    def __init__(self, card: Card, profile: Profile | None = None) -> None:
        self.card = card
        self.profile = profile or card.profile
        self.waiting = Waiting()
        self._disk: Tree = DiskTree(card)
        self._planned: tuple[Waiting, Tree] | None = None
        self._outcome: tuple[Waiting, Outcome] | None = None

    def look_again(self) -> None:
        """Forget what was read: the card has changed."""
        self._disk = DiskTree(self.card)
        self._planned = None

    @property
    def disk(self) -> Tree:
        """The card as it is."""
        return self._disk

    def tree(self) -> Tree:
        """The card as it will be after the waiting plan."""
        waiting = self.waiting
        if not waiting:
            return self._disk
        if self._planned is None or self._planned[0] is not waiting:
            from workbench.changes.planned_tree import PlannedTree

            self._planned = (waiting, PlannedTree(self._disk, waiting.plan))
        return self._planned[1]

    @property
    def outcome(self) -> Outcome:
        """What the waiting plan comes to."""
        if self._outcome is None or self._outcome[0] is not self.waiting:
            self._outcome = (self.waiting, outcome_of(self.waiting.plan))
        return self._outcome[1]

    # Reading, in workers

    def read_menus(self, *, labels: bool) -> tuple[Menu, ...]:
        """The menus as they will be; without labels it costs one listing a menu."""
        from workbench.card.menu import read_menus

        return read_menus(self.tree(), self._known_profile(), labels=labels)

    def find_references(self, menu: Menu, entry: Entry, *, mentions: bool = False) -> Found:
        """Everything that names an entry."""
        from workbench.card.references import find_references

        return find_references(self.tree(), self._known_profile(), menu, entry, mentions=mentions)

    def plan(self, wish: Wish) -> Plan:
        """Plan a wish on the card as the waiting plan leaves it."""
        return wish(self.tree(), self._known_profile())

    def _known_profile(self) -> Profile:
        if self.profile is None:
            from workbench.errors import ProfileError

            raise ProfileError(
                "no device profile fits this card; open it with: cardwright CARD --profile FILE"
            )
        return self.profile

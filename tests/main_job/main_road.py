"""The road of the main job, as the faces go it: open a card, plan, apply, undo."""

from __future__ import annotations

from pathlib import Path

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import find_entry, read_menus
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.ledger import Change, read_history
from workbench.changes.plan import Plan
from workbench.changes.undo import plan_undo
from workbench.jobs.rename import plan_rename


class Road:
    """One card and its profile; every wish is planned on the card as it is now."""

    def __init__(self, folder: Path, profile: Path) -> None:
        self.folder = folder
        self.profile = read_profile(profile)
        self.changes: list[Change] = []

    @property
    def card(self) -> Card:
        return open_card(str(self.folder), (self.profile,), self.profile)

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def plan_rename(self, menu_id: str, name: str, new_name: str) -> Plan:
        tree = self.tree
        menu, entry = find_entry(read_menus(tree, self.profile), f"{menu_id}:{name}")
        assert entry.name == name
        return plan_rename(tree, self.profile, menu, entry, new_name)

    def rename(self, menu_id: str, name: str, new_name: str) -> Plan:
        plan = self.plan_rename(menu_id, name, new_name)
        assert plan.conflicts == ()
        self.apply(plan)
        return plan

    def apply(self, plan: Plan) -> None:
        self.changes.append(apply(self.card, plan))

    def undo_all(self) -> None:
        """Undo every change of this road, the latest first."""
        for change in reversed(self.changes):
            apply(self.card, plan_undo(self.card, change.number))
        self.changes.clear()
        assert read_history(self.card)

"""The odd card opened, planned on, applied and undone, as the faces do it."""

from __future__ import annotations

from pathlib import Path

from odd_card import build

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import Entry, Menu, find_entry, read_menus
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.plan import Plan
from workbench.changes.undo import plan_undo


class OddRoad:
    """The odd card in a folder of a test's own."""

    def __init__(self, folder: Path, extra: str = "") -> None:
        self.folder, source = build(folder)
        if extra:
            source.write_text(source.read_text(encoding="utf-8") + extra, encoding="utf-8")
        self.source = source
        self.profile: Profile = read_profile(source)
        self.numbers: list[int] = []

    @property
    def card(self) -> Card:
        return open_card(str(self.folder), (self.profile,), self.profile)

    @property
    def tree(self) -> DiskTree:
        """The card as it is now: what was read before is not believed."""
        return DiskTree(self.card)

    def find(self, text: str) -> tuple[DiskTree, Profile, Menu, Entry]:
        """What a job is given for an entry; its menu read with labels."""
        tree = self.tree
        return tree, self.profile, *find_entry(read_menus(tree, self.profile), text)

    def apply(self, plan: Plan) -> Plan:
        assert plan.conflicts == ()
        self.numbers.append(apply(self.card, plan).number)
        return plan

    def undo_all(self) -> None:
        for number in reversed(self.numbers):
            apply(self.card, plan_undo(self.card, number))
        self.numbers.clear()

    def text(self, path: str) -> str:
        return (self.folder / path).read_text(encoding="utf-8")

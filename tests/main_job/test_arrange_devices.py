"""A whole shuffled menu: the device's own reader shows the wanted order, and what names an entry follows."""

from __future__ import annotations

import random

import practice_cards
import pytest
from device_view import comparable, differences, renamed_view

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import read_menus
from workbench.card.profile_reader import read_profile
from workbench.changes.apply import apply
from workbench.changes.plan import Move
from workbench.changes.undo import plan_undo
from workbench.jobs.arrange import plan_order


class Desk:
    """One practice card, its menus and its reader."""

    def __init__(self, device, folder):
        self.device, self.folder = device, folder
        self.profile = read_profile(practice_cards.profile_path(device))

    @property
    def card(self):
        return open_card(str(self.folder), (self.profile,), self.profile)

    @property
    def tree(self):
        return DiskTree(self.card)

    def menu(self, menu_id):
        return read_menus(self.tree, self.profile, menu_id)[0]

    def see(self):
        return practice_cards.read_device(self.device, self.folder)

    def names(self, menu_id):
        return next(
            [entry["name"] for entry in menu["entries"]]
            for menu in self.see()["menus"]
            if menu["id"] == menu_id
        )


def renames_of(plan, menu):
    """Present name → new name, by the plan's own moves."""
    new = {
        step.source.name: step.to.name
        for step in plan.steps
        if isinstance(step, Move) and step.source.parent == menu.root
    }
    return {entry.name: new.get(entry.name, entry.name) for entry in menu.entries}


MENUS = [
    ("larkspur", "shelf"),
    ("fernway", "rooms"),
    ("fernway", "parlour/Puzzles"),
    ("fernway", "parlour/Tunes"),
]


@pytest.mark.parametrize(("device", "menu_id"), MENUS)
@pytest.mark.parametrize(("seed", "style"), [(1, None), (2, "numbers"), (3, "shortest")])
def test_a_shuffled_menu(device, menu_id, seed, style, practice_card, tree_bytes):
    """The reader shows exactly the wanted order; labels, icons, saves and programs still match."""
    desk = Desk(device, practice_card(device))
    before, bytes_before = desk.see(), tree_bytes(desk.folder)
    menu = desk.menu(menu_id)
    wanted = [entry.name for entry in menu.entries]
    random.Random(seed).shuffle(wanted)
    plan = plan_order(desk.tree, desk.profile, menu, wanted, style=style)
    assert plan.conflicts == ()
    new = renames_of(plan, menu)
    apply(desk.card, plan)
    shown_menu = "parlour" if menu_id == "rooms" else menu_id
    if menu_id != "rooms":
        assert desk.names(shown_menu) == [new[name] for name in wanted]
    else:
        assert [entry.name for entry in desk.menu("rooms").entries] == [new[name] for name in wanted]
    after = desk.see()
    assert after["problems"] == before["problems"]
    for old, name in new.items():
        before = renamed_view(before, device, menu_id, old, name) if old != name else before
    if menu_id != "rooms":
        assert differences(comparable(before), comparable(after)) == []
    apply(desk.card, plan_undo(desk.card, 1))
    assert tree_bytes(desk.folder) == bytes_before

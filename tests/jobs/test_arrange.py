"""Placing one entry: the device's own reader shows the wanted order, and undo brings all back."""

from __future__ import annotations

import re

import practice_cards
import pytest

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import find_entry, read_menus
from workbench.card.profile_reader import read_profile
from workbench.changes.apply import apply
from workbench.changes.undo import plan_undo
from workbench.errors import EntryError
from workbench.jobs.arrange import Place, place_name, plan_place

_PREFIX = re.compile(r"\A(?:[0-9]{1,4}|([a-z])\1{1,2}|[a-z][0-9]{1,2}|[!~][0-9]{0,2})[ -]")
"""What an entry may bear in front before it is placed; told here apart from the code under test."""


class Desk:
    """One practice card and the order that its reader shows."""

    def __init__(self, device, folder):
        self.device, self.folder = device, folder
        self.profile = read_profile(practice_cards.profile_path(device))

    @property
    def card(self):
        return open_card(str(self.folder), (self.profile,), self.profile)

    def names(self, menu_id):
        seen = practice_cards.read_device(self.device, self.folder)
        assert seen["problems"] == []
        menu = next(menu for menu in seen["menus"] if menu["id"] == menu_id)
        return [entry["name"] for entry in menu["entries"]]

    def place(self, menu_id, name, kind, other=None, style=None):
        tree = DiskTree(self.card)
        menus = read_menus(tree, self.profile)
        menu, entry = find_entry(menus, f"{menu_id}:{name}")
        beside = find_entry(menus, f"{menu_id}:{other}")[1] if other else None
        plan = plan_place(tree, self.profile, menu, entry, Place(kind, beside), style=style)
        assert plan.conflicts == ()
        if plan.steps:
            apply(self.card, plan)
        return plan


@pytest.mark.parametrize(("device", "menu"), [("larkspur", "shelf"), ("fernway", None)])
@pytest.mark.parametrize("kind", ["first", "last", "before", "after"])
@pytest.mark.parametrize("index", [0, 7, -1])
def test_a_placed_entry_stands_where_it_should(device, menu, kind, index, practice_card, tree_bytes):
    """Positions of all others stay; names that were not in the way keep theirs; undo restores every byte."""
    desk = Desk(device, practice_card(device))
    before = tree_bytes(desk.folder)
    menu = (
        menu
        or max(
            practice_cards.read_device(device, desk.folder)["menus"], key=lambda found: len(found["entries"])
        )["id"]
    )
    names = desk.names(menu)
    moved, other = names[index], names[len(names) // 2]
    plan = desk.place(menu, moved, kind, other if kind in ("before", "after") else None)
    after = desk.names(menu)
    rest = [name for name in names if name != moved]
    at = {"first": 0, "last": len(rest), "before": rest.index(other), "after": rest.index(other) + 1}[kind]
    kept = {name for name in after if name in names}
    assert [name for name in after if name in kept and name != moved] == [n for n in rest if n in kept]
    wanted = [*rest[:at], moved, *rest[at:]]
    assert all(new.endswith(_PREFIX.sub("", old)) for new, old in zip(after, wanted, strict=True))
    if plan.steps:
        apply(desk.card, plan_undo(desk.card, 1))
    assert tree_bytes(desk.folder) == before


def test_a_prefix_is_replaced_and_never_stacked(practice_card):
    """Sent first, last and first again, the entry has one prefix; stripped, its plain name."""
    desk = Desk("larkspur", practice_card("larkspur"))
    name = "Boats"
    for kind in ("first", "last", "first"):
        desk.place("shelf", name, kind)
        names = desk.names("shelf")
        name = names[0] if kind == "first" else names[-1]
        assert name.endswith(" Boats")
        assert len(name) <= len("Boats") + 5
    desk.place("shelf", name, "strip")
    assert "Boats" in desk.names("shelf")


@pytest.mark.parametrize("style", ["letters", "numbers"])
def test_a_style_too_narrow_is_refused_with_the_reason(style, practice_card):
    """Letters cannot go before digits in byte order, numbers cannot go after letters alone."""
    desk = Desk("larkspur", practice_card("larkspur"))
    try:
        desk.place("shelf", "Boats", "first", style=style)
    except EntryError as error:
        assert style in error.message
    else:
        assert desk.names("shelf")[0].endswith("Boats")


def test_a_folders_own_order_cannot_be_set_on_an_ordinary_disk(practice_card):
    """Orrery in a folder: refused with the reason, nothing changed."""
    desk = Desk("orrery", practice_card("orrery"))
    names = desk.names("sky")
    with pytest.raises(EntryError, match="order of its own"):
        desk.place("sky", names[3], "first")


@pytest.mark.parametrize(
    ("kind", "other", "wanted"),
    [
        ("first", None, ["c", "a", "b", "d"]),
        ("last", None, ["a", "b", "d", "c"]),
        ("before", "b", ["a", "c", "b", "d"]),
        ("after", "d", ["a", "b", "d", "c"]),
    ],
)
def test_the_wanted_order(kind, other, wanted):
    """Only the placed name moves."""

    class Beside:
        name = other

    assert place_name(["a", "b", "c", "d"], "c", Place(kind, Beside() if other else None)) == wanted

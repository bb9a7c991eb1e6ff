"""Every entry of every menu gets a name that is hard to quote; the device's reader must not notice."""

from __future__ import annotations

import random

import pytest
from device_view import comparable, differences, renamed_view
from main_road import Road
from practice_cards import DEVICES, profile_path

from workbench.card.menu import find_entry, read_menus
from workbench.card.names import fold_name
from workbench.changes.plan import Plan
from workbench.changes.planned_tree import PlannedTree
from workbench.jobs.rename import plan_rename

PIECES = (
    *" '$&;`!#%()[]{}=+,@^~-_.",
    *(
        "$HOME",
        "${STORE}",
        "$(x)",
        "%41",
        "&amp;",
        "&#65;",
        "\\u0041",
        "]]&",
        "''",
        "--",
        "{entry}",
        "{stem}",
    ),
    *("Boats", "Moon", "é", "e\u0301", "ß", "Ж", "雨", "🎈", "aa ", "05-", "a", "B", "7"),
)


def nasty_name(rng: random.Random, suffix: str) -> str:
    """A name that FAT takes: no backslash, no space or dot at an end, no space in front."""
    while True:
        name = "".join(rng.choice(PIECES) for _ in range(rng.randint(2, 7))).replace("\\", "!").strip(" .")
        if name and len(name) < 30:
            return name + suffix


def wishes(road: Road, rng: random.Random) -> list[tuple[str, str, str]]:
    """Menu, old name, new name for every entry; the innermost menus first."""
    found = []
    for menu in reversed(read_menus(road.tree, road.profile)):
        taken = {fold_name(entry.name, "fat") for entry in menu.entries}
        for entry in menu.entries:
            suffix = "." + entry.name.rpartition(".")[2] if menu.rule.entries == "files" else ""
            name = nasty_name(rng, suffix)
            while fold_name(name, "fat") in taken or stem_taken(name, taken):
                name = nasty_name(rng, suffix)
            taken.add(fold_name(name, "fat"))
            found.append((menu.id, entry.name, name))
    return found


def stem_taken(name: str, taken: set[str]) -> bool:
    """Whether `name.1.save` could be taken for the companion of another, or the other way round."""
    whole = fold_name(name, "fat")
    stem = whole.rpartition(".")[0] or whole
    return any((other.rpartition(".")[0] or other).startswith(stem + ".") for other in taken) or any(
        (stem + ".").startswith((other.rpartition(".")[0] or other) + ".") for other in taken
    )


def check(device, seed, practice_card, read_device, tree_bytes, *, in_one_plan: bool) -> None:
    card = practice_card(device)
    road, start = Road(card, profile_path(device)), tree_bytes(card)
    view = read_device(device, card)
    plan = Plan("Rename everything", ())
    for menu_id, old, new in wishes(road, random.Random(f"{device} {seed}")):
        tree = PlannedTree(road.tree, plan) if in_one_plan else road.tree
        menu, entry = find_entry(read_menus(tree, road.profile), f"{menu_id}:{old}")
        assert (menu.id, entry.name) == (menu_id, old)
        step = plan_rename(tree, road.profile, menu, entry, new, mentions=False)
        assert step.conflicts == ()
        plan = plan.then(step)
        if not in_one_plan:
            road.apply(step)
        view = renamed_view(view, device, menu_id, old, new)
    if in_one_plan:
        road.apply(plan)
    seen = read_device(device, card)
    assert seen["problems"] == []
    assert differences(comparable(seen), comparable(view)) == []
    road.undo_all()
    assert tree_bytes(card) == start


@pytest.mark.parametrize("device", DEVICES)
def test_everything_renamed_in_one_plan(device, practice_card, read_device, tree_bytes):
    """A plan that grows by a rename for every entry is applied once and undone once."""
    check(device, 1, practice_card, read_device, tree_bytes, in_one_plan=True)


@pytest.mark.parametrize("device", DEVICES)
def test_everything_renamed_one_by_one(device, practice_card, read_device, tree_bytes):
    """A change for every entry, undone one after the other."""
    check(device, 2, practice_card, read_device, tree_bytes, in_one_plan=False)


@pytest.mark.sweep
@pytest.mark.parametrize("seed", range(3, 13))
@pytest.mark.parametrize("device", DEVICES)
def test_everything_renamed_again_and_again(device, seed, practice_card, read_device, tree_bytes):
    """Ten more sets of names for each device."""
    check(device, seed, practice_card, read_device, tree_bytes, in_one_plan=True)

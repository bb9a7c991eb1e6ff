"""What a person asks for entries or a whole menu, planned on whatever they are called by then.

A wish holds keys and no names: moves that are planned before it may rename what it is for. Jobs are imported
when a wish is planned (in a worker thread), not when the workbench starts.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING

from workbench.errors import EntryError
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.card.entry import Entry, Menu
    from workbench.card.paths import VolumePath
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.jobs.hiding import HiddenEntry
    from workbench.media.fitting import Fit
    from workbench.tui.outcome import Outcome

PlanOne = Callable[["Tree", "Profile", "Menu", "Entry"], "Plan"]
PlanMenu = Callable[["Tree", "Profile", "Menu"], "Plan"]


@dataclass(frozen=True, slots=True)
class EntryWish:
    """The same for one entry or several."""

    menu_id: str
    keys: tuple[Hashable, ...]
    plan_one: PlanOne
    title: str = "{} entries"
    """What it is called where it is for several."""


@dataclass(frozen=True, slots=True)
class MenuWish:
    """Something for a whole menu."""

    menu_id: str
    plan_menu: PlanMenu


def plan_for_entries(tree: Tree, profile: Profile, before: Outcome, wish: EntryWish) -> Plan:
    """Plan it for one entry after the other, each on the card as those before it leave it.

    Args:
        before: what was wished before on the card, so that keys lead to entries.
    """
    from workbench.changes.plan import Plan

    menu = read_menu(tree, profile, wish.menu_id)
    places = {before.key(entry.at): entry.at for entry in menu.entries}
    if not all(key in places for key in wish.keys):
        raise EntryError("an entry that this was asked for is no longer there; nothing was changed")
    whole = Plan("", ())
    for number, key in enumerate(wish.keys):
        then = whole.on(tree) if whole.steps else tree
        here = read_menu(then, profile, wish.menu_id) if number else menu
        whole = whole.then(wish.plan_one(then, profile, here, _entry_at(here, places[key])))
    return whole if len(wish.keys) == 1 else replace(whole, title=wish.title.format(len(wish.keys)))


def plan_for_menu(tree: Tree, profile: Profile, wish: MenuWish) -> Plan:
    """Plan it for the menu as it is by then."""
    return wish.plan_menu(tree, profile, read_menu(tree, profile, wish.menu_id))


def read_menu(tree: Tree, profile: Profile, menu_id: str, *, labels: bool = True) -> Menu:
    """The menu of that id.

    Raises:
        EntryError: it is no longer there.
    """
    from workbench.card.menu import read_menus

    menus = read_menus(tree, profile, menu_id, labels=labels)
    found = next((menu for menu in menus if menu.id == menu_id), None)
    if found is None:
        raise EntryError(f"the menu {menu_id} is no longer there; nothing was changed")
    return found


def _entry_at(menu: Menu, at: VolumePath) -> Entry:
    found = next((entry for entry in menu.entries if entry.at == at), None)
    if found is None:
        raise EntryError(f"{at} is no longer an entry; nothing was changed", path=str(at))
    return found


# For an entry


def rename_to(name: str) -> PlanOne:
    """Another name."""

    def plan(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
        from workbench.jobs.rename import plan_rename

        return plan_rename(tree, profile, menu, entry, name)

    return plan


def strip(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """Its prefix taken off."""
    from workbench.jobs.arrange import Place, plan_place

    return plan_place(tree, profile, menu, entry, Place("strip"))


def label_with(text: str) -> PlanOne:
    """Another text on the device."""

    def plan(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
        from workbench.jobs.label import plan_label

        return plan_label(tree, profile, menu, entry, text)

    return plan


def dress_with(
    kind: str | None, picture: Path, fit: Fit = "contain", background: str | None = None
) -> PlanOne:
    """A picture of the person's own; without a background it stays clear where its format can be."""

    def plan(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
        from workbench.jobs.icon import plan_icon

        return plan_icon(tree, profile, menu, entry, kind, picture, fit=fit, background=background)

    return plan


def hide(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """Listed by the device no longer."""
    from workbench.jobs.entry import plan_hide

    return plan_hide(tree, profile, menu, entry)


def copy_as(name: str, *, with_companions: bool) -> PlanOne:
    """A second entry like it."""

    def plan(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
        from workbench.jobs.entry import plan_copy

        return plan_copy(tree, profile, menu, entry, name, with_companions=with_companions)

    return plan


def remove(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """Put away, with everything that names it."""
    from workbench.jobs.entry import plan_remove

    return plan_remove(tree, profile, menu, entry)


# For a menu


def number_with(separator: str | None) -> PlanMenu:
    """All entries numbered in the order that they have."""

    def plan(tree: Tree, profile: Profile, menu: Menu) -> Plan:
        from workbench.jobs.arrange import plan_number

        return plan_number(tree, profile, menu, separator=separator)

    return plan


def strip_all(tree: Tree, profile: Profile, menu: Menu) -> Plan:
    """Every prefix taken off."""
    from workbench.jobs.arrange import plan_strip_all

    return plan_strip_all(tree, profile, menu)


def add(name: str) -> PlanMenu:
    """An empty entry."""

    def plan(tree: Tree, profile: Profile, menu: Menu) -> Plan:
        from workbench.jobs.entry import plan_add

        return plan_add(tree, profile, menu, name)

    return plan


def show(hidden: HiddenEntry) -> PlanMenu:
    """A hidden entry back in its menu."""

    def plan(tree: Tree, profile: Profile, menu: Menu) -> Plan:  # noqa: ARG001 - as all of these
        from workbench.jobs.entry import plan_show

        return plan_show(tree, profile, hidden)

    return plan

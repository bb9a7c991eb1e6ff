"""Entries as a whole: hide and show, copy as a new one, add an empty one, remove one with its references.

Saved games and other companions belong to the person: they follow a name, and are never removed.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.names import check_free, check_name
from workbench.card.profile import Profile
from workbench.card.roster import fold_case
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import EntryError
from workbench.jobs.entry_add import plan_add
from workbench.jobs.entry_copy import plan_copy
from workbench.jobs.entry_remove import plan_remove
from workbench.jobs.hiding import HiddenEntry, hidden_name, list_hidden, reveal
from workbench.jobs.rename import plan_new_name
from workbench.shown import shown
from workbench.values import replace

__all__ = [
    "HiddenEntry",
    "find_hidden",
    "pick_hidden",
    "plan_add",
    "plan_copy",
    "plan_hide",
    "plan_remove",
    "plan_show",
]


def find_hidden(tree: Tree, profile: Profile, menu_id: str | None = None) -> tuple[HiddenEntry, ...]:
    """The hidden entries that `plan_show` can show, menu by menu, by name.

    Raises:
        EntryError, CardError: as `card.menu.read_menus`.
    """
    menus = read_menus(tree, profile, menu_id, labels=False)
    return tuple(hidden for menu in menus for hidden in list_hidden(tree, profile, menu))


def pick_hidden(found: Sequence[HiddenEntry], text: str) -> HiddenEntry:
    """The hidden entry that a person means: by the name it has or the one it had, else by case.

    `MENU:NAME` says in which menu to look.

    Raises:
        EntryError: none fits, or several do; with those that there are.
    """
    ways: tuple[Callable[[str], str], ...] = (str, fold_case)
    for fold in ways:
        fitting = [one for one in found if fold(text) in map(fold, _names_of(one))]
        if len(fitting) == 1:
            return fitting[0]
        if fitting:
            listed = ", ".join(f"{shown(one.menu.id)}:{shown(one.name)}" for one in fitting)
            raise EntryError(f"{shown(text)!r} could be any of: {listed}; nothing was changed.")
    known = ", ".join(shown(one.name) for one in found[:8])
    rest = f"Hidden are: {known}." if known else "Nothing is hidden there."
    raise EntryError(f"no hidden entry is called {shown(text)!r}; nothing was changed. {rest}")


def _names_of(one: HiddenEntry) -> tuple[str, ...]:
    names = (one.name, one.shown_name)
    return (*names, *(f"{one.menu.id}:{name}" for name in names))


def plan_hide(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """The plan that gives the entry a name which the device does not list; all that names it follows.

    Raises:
        EntryError: this device hides nothing by name; with what can be done instead.
        NameRefusedError: the hidden name is taken or too long.
    """
    name = hidden_name(profile, menu.rule, entry.name)
    if name is None:
        raise EntryError(
            f"the profile {profile.name} knows no names that the device leaves out of the menu {menu.id}, so "
            f"{shown(entry.name)} cannot be hidden; nothing was changed. It can be removed (and brought back "
            "with undo), or sent to the end of the menu.",
            path=str(entry.at),
        )
    _check_place(tree, profile, menu, entry.name, name)
    plan = plan_new_name(tree, profile, menu, entry, name, f"Hide {entry.name}")
    note = (
        f"The device does not list {shown(name)}. What names it follows, so it can be shown again as it was."
    )
    return replace(plan, notes=(note, *plan.notes)).wished("hide", entry=entry.name, menu=menu.id)


def plan_show(tree: Tree, profile: Profile, hidden: HiddenEntry) -> Plan:
    """The plan that gives a hidden entry its name back: every byte is as it was before it was hidden.

    Raises:
        EntryError: it is no longer there.
        NameRefusedError: another entry has that name by now.
    """
    open_profile, menu, entry = reveal(tree, profile, hidden)
    _check_place(tree, profile, menu, hidden.name, hidden.shown_name)
    title = f"Show {hidden.shown_name} again"
    plan = plan_new_name(tree, open_profile, menu, entry, hidden.shown_name, title)
    return plan.wished("show", entry=hidden.shown_name, menu=menu.id)


def _check_place(tree: Tree, profile: Profile, menu: Menu, name: str, new_name: str) -> None:
    """A name that keeps to the card's rules and is free; the device's own limit is for what it lists."""
    rule = profile.volumes[menu.root.volume].names
    check_name(new_name, rule)
    siblings = [item.name for item in tree.list(menu.root) if item.name != name]
    check_free(new_name, siblings, rule)

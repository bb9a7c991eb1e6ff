"""Entries as a whole: hide and show, copy as a new one, add an empty one, remove one with its references.

Saved games and other companions belong to the person: they follow a name, and are never removed.
"""

from __future__ import annotations

from workbench.card.menu import Entry, Menu
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class HiddenEntry:
    """Something in a menu's folder that the device does not list because of its name."""

    menu: Menu
    name: str
    shown_name: str
    """The name that it gets when it is shown."""


def find_hidden(tree: Tree, profile: Profile, menu_id: str | None = None) -> tuple[HiddenEntry, ...]:
    """The hidden entries that `plan_show` can show, menu by menu, by name."""
    raise NotImplementedError


def plan_hide(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """The plan that gives the entry a name which the device does not list; all that names it follows.

    Raises:
        EntryError: this device hides nothing by name; with what can be done instead.
        NameRefusedError: the hidden name is taken or too long.
    """
    raise NotImplementedError


def plan_show(tree: Tree, profile: Profile, hidden: HiddenEntry) -> Plan:
    """The plan that gives a hidden entry its name back: every byte is as it was before it was hidden.

    Raises:
        NameRefusedError: another entry has that name by now.
    """
    raise NotImplementedError


def plan_copy(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    new_name: str,
    *,
    label: str | None = None,
    with_companions: bool = False,
) -> Plan:
    """The plan that makes a second entry of one: its files, its pictures, its rows in manifests.

    Args:
        label: what the device shows for the copy, where it shows labels; None for the new name.
        with_companions: also copy saved games, settings and manuals.

    Raises:
        NameRefusedError: the name would not survive on the card, or is taken; with a suggestion.
    """
    raise NotImplementedError


def plan_add(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    name: str,
    *,
    like: Entry | None = None,
    label: str | None = None,
) -> Plan:
    """The plan that adds an empty entry, registered wherever its neighbours are.

    Args:
        like: the neighbour to follow; None for the one that is most like the others.
        label: as for `plan_copy`.

    Raises:
        NameRefusedError: the name would not survive on the card, or is taken; with a suggestion.
    """
    raise NotImplementedError


def plan_remove(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    """The plan that puts an entry away with its pictures and everything that names it; undo brings all back.

    Companions stay. A word of a script cannot be taken out: it is listed as unruled.
    """
    raise NotImplementedError

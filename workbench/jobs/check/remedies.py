"""Remedies that several rules share: putting a thing away, and giving an entry another name."""

from __future__ import annotations

from functools import partial

from workbench.card.menu import read_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Remove
from workbench.jobs.check.finding import Remedy
from workbench.jobs.rename import plan_rename
from workbench.shown import shown


def putting_away(at: VolumePath, words: str = "put it away") -> Remedy:
    """The thing goes into the ledger's keep; an undo brings it back."""
    return Remedy(words, partial(_plan_away, at))


def renaming(menu_id: str, name: str, better: str) -> Remedy:
    """The entry gets another name, and everything that names it follows."""
    return Remedy(f"rename it to {shown(better)}", partial(_plan_name, menu_id, name, better))


def _plan_away(at: VolumePath, tree: Tree, profile: Profile) -> Plan:  # noqa: ARG001 - as every remedy
    return Plan(f"Put {at.name} away", (Remove(at),) if tree.stat(at) is not None else ())


def _plan_name(menu_id: str, name: str, better: str, tree: Tree, profile: Profile) -> Plan:
    for menu in read_menus(tree, profile, menu_id, labels=False):
        for entry in menu.entries:
            if entry.name == name and menu.id == menu_id:
                return plan_rename(tree, profile, menu, entry, better, mentions=False)
    return Plan(f"Rename {name}", ())

"""What a person asks for, as functions that plan themselves on a tree.

Jobs are imported when a wish is planned (in a worker thread), not when the workbench starts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from workbench.card.menu import Entry, Menu
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.tui.desk import Wish

PlaceKind = Literal["first", "last", "before", "after", "strip"]


def rename_wish(menu: Menu, entry: Entry, name: str) -> Wish:
    """Another name for an entry."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.rename import plan_rename

        return plan_rename(tree, profile, menu, entry, name)

    return plan


def place_wish(menu: Menu, entry: Entry, kind: PlaceKind, neighbour: Entry | None = None) -> Wish:
    """Another place for an entry, or its prefix taken off."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.arrange import Place, plan_place

        return plan_place(tree, profile, menu, entry, Place(kind, neighbour))

    return plan

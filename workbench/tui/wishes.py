"""What a person asks for, as functions that plan themselves on a tree.

Jobs are imported when a wish is planned (in a worker thread), not when the workbench starts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.card.menu import Entry, Menu
    from workbench.card.paths import VolumePath
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.media.fitting import Fit
    from workbench.media.levels import Dither
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


def set_wish(at: VolumePath, pointer: str, text: str) -> Wish:
    """Another value at a place of a manifest."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.edit import plan_set, read_value

        return plan_set(tree, profile, at, pointer, read_value(text))

    return plan


def insert_wish(at: VolumePath, pointer: str, text: str) -> Wish:
    """A new member of a manifest."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.edit import plan_insert, read_value

        return plan_insert(tree, profile, at, pointer, read_value(text))

    return plan


def delete_wish(at: VolumePath, pointer: str) -> Wish:
    """A member of a manifest less."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.edit import plan_delete

        return plan_delete(tree, profile, at, pointer)

    return plan


def mend_wish(at: VolumePath) -> Wish:
    """The proposed repair of a malformed manifest."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.edit import plan_mend

        return plan_mend(tree, profile, at)

    return plan


def put_wish(moments: tuple[str, ...], picture: Path, fit: Fit, background: str, dither: Dither) -> Wish:
    """A picture at one or more moments."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.splash import plan_put

        return plan_put(tree, profile, moments, picture, fit=fit, background=background, dither=dither)

    return plan


def blank_wish(moments: tuple[str, ...], colour: str) -> Wish:
    """One colour at one or more moments."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.splash import plan_blank

        return plan_blank(tree, profile, moments, colour)

    return plan


def restore_wish(moment: str, content: bytes) -> Wish:
    """A kept splash, byte for byte."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        from workbench.jobs.splash import plan_restore

        return plan_restore(tree, profile, moment, content)

    return plan

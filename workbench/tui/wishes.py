"""What a person asks for a manifest or a splash, as functions that plan themselves on a tree.

Jobs are imported when a wish is planned (in a worker thread), not when the workbench starts.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pathlib import Path

    from workbench.card.paths import VolumePath
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.media.fitting import Fit
    from workbench.media.levels import Dither
    from workbench.tui.desk import Wish


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

"""Makes a boot animation for its page, in a worker thread. Knows nothing of Textual."""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.jobs.animate import PlannedAnimation
    from workbench.jobs.animate.wish import AnimateWish, Cancelled, OnProgress
    from workbench.jobs.rehearsal import Rehearsal
    from workbench.tui.desk import Desk, Wish


@dataclass(frozen=True, slots=True)
class Made:
    """What was rendered and planned, and the card as it was planned on."""

    desk: Desk
    tree: Tree
    unit: int
    wish: AnimateWish
    planned: PlannedAnimation


def make(desk: Desk, wish: AnimateWish, progress: OnProgress, cancelled: Cancelled) -> Made:
    """Render it and plan it on the card as it will be after what waits.

    Raises:
        CardwrightError: as `plan_animate`.
    """
    from workbench.jobs.animate import plan_animate

    tree, profile = desk.tree(), desk.known_profile()
    unit = unit_of(desk)
    planned = plan_animate(tree, profile, wish, unit=unit, progress=progress, cancelled=cancelled)
    return Made(desk, tree, unit, wish, planned)


def unit_of(desk: Desk) -> int:
    """Bytes of an allocation unit where the profile's animations lie."""
    rule = desk.known_profile().animation
    if rule is None or rule.folder.volume not in desk.disk.roles():
        return 4096
    return desk.card.volume(rule.folder.volume).cluster_bytes


def add_wish(made: Made) -> Wish:
    """The animation, as a wish; planned again where other wishes came since (what was rendered is kept)."""

    def plan(tree: Tree, profile: Profile) -> Plan:
        if tree is made.tree:
            return made.planned.plan
        from workbench.jobs.animate import plan_animate

        return plan_animate(tree, profile, made.wish, unit=made.unit).plan

    return plan


def rehearse_made(made: Made) -> tuple[Rehearsal, Tree]:
    """The animation alone, on the card as it would be with it."""
    from workbench.tui.animating import rehearse_one

    tree = made.planned.plan.on(made.tree)
    return rehearse_one(tree, made.desk.known_profile(), made.planned.report.name), tree

"""From a wanted order to a plan: keys become names, the job plans, and what it renames is told.

Runs in worker threads; touches nothing but the tree that it is given.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from workbench.errors import OrderRefusedError
from workbench.tui.entry_wishes import read_menu
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.entry import Menu
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.tui.arranging import Arranging, Key
    from workbench.tui.outcome import Outcome

Renames = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Ordered:
    """A wanted order, planned."""

    plan: Plan
    renames: Renames
    """Entries renamed: name now, name then, in the wanted order."""


@dataclass(frozen=True, slots=True)
class Nearest:
    """The nearest order that can be had, where the wanted one cannot."""

    keys: tuple[Key, ...]
    names: tuple[str, ...]


def plan_arranging(tree: Tree, profile: Profile, before: Outcome, arranging: Arranging) -> Ordered:
    """Plan what the moves come to.

    Args:
        tree: the card as it is before the moves.
        before: what the wishes before the moves come to.

    Raises:
        CardwrightError: as `jobs.arrange.plan_order`.
    """
    from workbench.jobs.arrange import plan_order

    menu = read_menu(tree, profile, arranging.menu_id, labels=False)
    wanted = _wanted_names(menu, before, arranging)
    how = arranging.prefixing
    plan = plan_order(
        tree,
        profile,
        menu,
        wanted,
        style=how.style,
        separator=how.separator,
        title=arranging.title,
        carried=[entry.name for entry in menu.entries if before.key(entry.at) in arranging.carried],
    )
    return Ordered(plan, _renames(plan, menu, wanted))


def nearest_of(
    tree: Tree, profile: Profile, before: Outcome, arranging: Arranging, error: OrderRefusedError
) -> Nearest | None:
    """The order that the refusal proposes, in keys."""
    if not error.nearest:
        return None
    menu = read_menu(tree, profile, arranging.menu_id, labels=False)
    keys = {entry.name: before.key(entry.at) for entry in menu.entries}
    return Nearest(tuple(keys[name] for name in error.nearest if name in keys), error.nearest)


def _wanted_names(menu: Menu, before: Outcome, arranging: Arranging) -> list[str]:
    """Names in the wanted order; an entry that came in the meantime stays behind its neighbour."""
    names = {before.key(entry.at): entry.name for entry in menu.entries}
    wanted = [names[key] for key in arranging.keys if key in names]
    known, neighbour = set(wanted), -1
    for entry in menu.entries:
        if entry.name in known:
            neighbour = wanted.index(entry.name)
        else:
            neighbour += 1
            wanted.insert(neighbour, entry.name)
    return wanted


def _renames(plan: Plan, menu: Menu, wanted: list[str]) -> Renames:
    from workbench.tui.outcome import outcome_of

    then = {
        start.name: to.name
        for to, start in outcome_of(plan).moved.items()
        if start.parent == to.parent == menu.root
    }
    return tuple((name, then[name]) for name in wanted if then.get(name, name) != name)

"""Completes the removal of a pack: what names its entries by now goes with them.

The ledger takes back what the pack's change did; what came to name its entries later (a pinned list, a row
that was renamed with its entry) is found by the profile's rules.
"""

from __future__ import annotations

from collections.abc import Iterable

from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Step, Write, digest
from workbench.errors import CardwrightError
from workbench.jobs.entry_remove import plan_remove
from workbench.shown import shown
from workbench.values import replace


def plan_remove_pack(tree: Tree, profile: Profile, taken: Plan, entries: Iterable[VolumePath]) -> Plan:
    """The whole plan.

    Args:
        taken: what the ledger takes back; its conflicts are what was edited since.
        entries: of the pack, where they stand by now.
    """
    edited = tuple(step for step in taken.steps if _is_in_place(step, tree))
    others = tuple(step for step in taken.steps if step not in edited)
    kept = Plan("", edited)
    after = taken.on(tree)
    notes = list(taken.notes)
    for at in entries:
        if after.stat(at) is not None:
            if tree.stat(at) is not None:
                notes.append(f"{shown(str(at))} stays, since it holds what the pack did not bring.")
            continue
        found = _find(kept.on(tree), profile, at)
        if found is None:
            continue
        removal = plan_remove(kept.on(tree), profile, *found)
        writes = tuple(step for step in removal.steps if isinstance(step, Write) and not step.at.is_below(at))
        kept = replace(kept, steps=(*kept.steps, *writes))
        notes += [note for note in removal.notes if "put away" not in note]
    mended = {step.at for step in kept.steps[len(edited) :] if isinstance(step, Write)}
    return replace(
        taken,
        steps=(*kept.steps, *others),
        conflicts=tuple(one for one in taken.conflicts if one.at not in mended),
        notes=tuple(dict.fromkeys(notes)),
    )


def _is_in_place(step: Step, tree: Tree) -> bool:
    """Whether it writes over what stands there now, so that it can come before anything moves.

    What takes an entry's name out of a manifest is planned on what these write: edits, and whole contents.
    """
    if not isinstance(step, Write) or step.before is None:
        return False
    item = tree.stat(step.at)
    if item is None or item.kind != "file":
        return False
    return bool(step.edits) or digest(tree.read(step.at)) == step.before


def _find(tree: Tree, profile: Profile, at: VolumePath) -> tuple[Menu, Entry] | None:
    try:
        menus = read_menus(tree, profile, labels=False)
    except CardwrightError:
        return None
    return next(((menu, entry) for menu in menus for entry in menu.entries if entry.at == at), None)

"""Sets which boot animation plays at start, or that none does."""

from __future__ import annotations

from workbench.card.animations import read_animation, read_chosen, require_rule
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.jobs.animate.setting import put_choice
from workbench.jobs.animate.sheets import Sheets
from workbench.shown import shown


def plan_choose(tree: Tree, profile: Profile, name: str | None) -> Plan:
    """The plan that makes an animation play at start; None for none.

    Raises:
        EntryError: there is no such animation.
        ProfileError: the profile does not say where the choice stands, or how none is chosen.
        ManifestError, CardError: the setting's file is malformed; its volume is absent.
    """
    require_rule(profile)
    title = "Play no boot animation at start"
    notes: list[str] = []
    if name is not None:
        animation = read_animation(tree, profile, name)
        name = animation.name
        title = f"Play the boot animation {name} at start"
        if not animation.frames:
            notes.append(f"{shown(name)} has no frames, so nothing will be seen.")
    sheets = Sheets(tree, profile)
    put_choice(sheets, tree, profile, name)
    steps = sheets.steps()
    if not steps:
        now = read_chosen(tree, profile)
        notes.append(f"{shown(now)} plays at start already." if now else "Nothing plays at start already.")
    return Plan(title, tuple(steps), notes=tuple(notes))

"""Puts a boot animation away with all that is its own: frames, sound, settings, script, art, name, entry."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import (
    Animation,
    is_file,
    is_folder,
    place,
    pointer,
    read_animation,
    require_rule,
)
from workbench.card.menu import read_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Remove
from workbench.errors import ProfileError
from workbench.jobs.animate.setting import put_choice
from workbench.jobs.animate.sheets import Sheet, Sheets
from workbench.jobs.entry_remove import plan_remove
from workbench.jobs.placing import has_place
from workbench.shown import shown


def plan_remove_animation(tree: Tree, profile: Profile, name: str) -> Plan:
    """The plan that puts an animation away; where it plays at start, nothing does from then on.

    Raises:
        EntryError: there is no such animation.
        ManifestError: a manifest that several animations share is malformed.
    """
    rule = require_rule(profile)
    animation = read_animation(tree, profile, name)
    entry = _plan_entry(tree, profile, rule, animation.name)
    taken = {step.at for step in entry.steps if isinstance(step, Remove)}
    own = [at for at in _own_places(tree, rule, animation) if not _is_in(at, taken)]
    sheets = Sheets(entry.on(tree), profile)
    _drop_shared(sheets, rule, animation, [*own, *taken])
    notes = _let_nothing_play(sheets, tree, profile, animation)
    return Plan(
        f"Remove the boot animation {animation.name}",
        (*entry.steps, *sheets.steps(), *map(Remove, own)),
        unruled=entry.unruled,
        conflicts=entry.conflicts,
        notes=(*entry.notes, *notes),
    )


def _plan_entry(tree: Tree, profile: Profile, rule: AnimationRule, name: str) -> Plan:
    if rule.entry is None:
        return Plan("", ())
    wanted = rule.entry.name.replace("{name}", name)
    for menu in read_menus(tree, profile, rule.entry.menu):
        entry = next((one for one in menu.entries if one.name == wanted), None)
        if entry is not None and menu.id == rule.entry.menu:
            return plan_remove(tree, profile, menu, entry)
    return Plan("", ())


def _own_places(tree: Tree, rule: AnimationRule, animation: Animation) -> Iterator[VolumePath]:
    """The folder, and files outside it that are made for this animation alone."""
    if is_folder(tree, animation.folder):
        yield animation.folder
    for one in (rule.settings, rule.sound, rule.script, rule.art, rule.label):
        if one is None or "{name}" not in one.file.path:
            continue
        at = place(one.file, animation.name)
        if not at.is_below(animation.folder) and is_file(tree, at):
            yield at


def _is_in(at: VolumePath, folders: set[VolumePath]) -> bool:
    return any(at == folder or at.is_below(folder) for folder in folders)


def _drop_shared(sheets: Sheets, rule: AnimationRule, animation: Animation, gone: list[VolumePath]) -> None:
    """Take out what manifests that stay say of this animation by its name."""
    places = []
    if rule.settings is not None and animation.settings is not None and not animation.fault:
        known = rule.settings
        selectors = (known.count, known.last, known.pace, known.loops, known.author)
        places += [(known.file, known.format, one) for one in selectors if one is not None]
    if rule.label is not None and animation.label is not None:
        places.append((rule.label.file, rule.label.format, rule.label.at))
    for file, format_, selector in places:
        at, where = place(file, animation.name), pointer(selector, animation.name)
        if "{name}" in selector.source and where is not None and not _is_in(at, set(gone)):
            sheet = sheets.open(at, format_)
            sheet.drop(where)
            _drop_empty(sheet, where.rpartition("/")[0], animation.name)


def _drop_empty(sheet: Sheet, row: str, name: str) -> None:
    """Take out the row that was the animation's own, once nothing is left in it."""
    if row.rpartition("/")[2] == name and has_place(sheet.document, row) and not sheet.document.get(row):
        sheet.drop(row)


def _let_nothing_play(sheets: Sheets, tree: Tree, profile: Profile, animation: Animation) -> list[str]:
    if not animation.is_chosen:
        return []
    try:
        put_choice(sheets, tree, profile, None)
    except ProfileError:
        return [
            f"{shown(animation.name)} plays at start, and the profile does not say how nothing does: the "
            "setting goes on naming it. Choose another one."
        ]
    return ["It plays at start: nothing will play there. Choose another one if you want one."]

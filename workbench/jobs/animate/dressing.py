"""What goes with an animation besides its frames: the art of one frame, and the entry in a menu."""

from __future__ import annotations

from pathlib import Path

from workbench.card.animation_rule import AnimationRule
from workbench.card.animations import Animation, is_file, place
from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Step
from workbench.errors import CardwrightError, EntryError
from workbench.jobs.animate.frame_steps import Folders, write_content
from workbench.jobs.entry_add import plan_add
from workbench.jobs.icon import plan_icon
from workbench.jobs.label import plan_label
from workbench.jobs.renders import hold
from workbench.media.colours import Colour
from workbench.media.fitting import fit_clear, fit_picture
from workbench.media.icon_format import IconFormat, encode_icon, plain_format, read_format
from workbench.media.picture import read_picture
from workbench.shown import shown
from workbench.values import replace


def plan_art(
    tree: Tree,
    rule: AnimationRule,
    name: str,
    still: Path,
    others: list[Animation],
    background: Colour,
    folders: Folders,
) -> list[Step]:
    """The steps that make the art of a frame, in the size and format that other animations have.

    Raises:
        MediaError: the profile's file is of no format known here.
    """
    if rule.art is None:
        return []
    at = place(rule.art.file, name)
    wanted, size = _follow(tree, rule, name, others)
    picture = read_picture(still)
    if rule.art.size is not None:
        size = rule.art.size
    if size is None:
        size = picture.size
    if wanted.has_alpha:
        fitted = fit_clear(picture, *size, "contain")
    else:
        fitted = fit_picture(picture, *size, "contain", background)
    write = write_content(tree, at, hold(encode_icon(fitted, wanted, None, background)))
    return [*folders.make(at.parent), write] if write is not None else []


def plan_entry(tree: Tree, profile: Profile, name: str, label: str | None, others: list[Animation]) -> Plan:
    """The plan that registers the animation as an entry of the profile's menu; empty where it is one.

    Raises:
        EntryError, CardError: there is no such menu on the card.
        NameRefusedError: the name would not survive there.
    """
    rule = profile.animation.entry if profile.animation is not None else None
    if rule is None:
        return Plan("", ())
    menu = _find_menu(tree, profile, rule.menu)
    wanted = rule.name.replace("{name}", name)
    entry = next((one for one in menu.entries if one.name == wanted), None)
    if entry is not None:
        if label is None or menu.rule.label is None or entry.label == label:
            return Plan("", ())
        return plan_label(tree, profile, menu, entry, label)
    named = {rule.name.replace("{name}", one.name) for one in others if one.name != name}
    like = next((one for one in menu.entries if one.name in named), None)
    return plan_add(tree, profile, menu, wanted, like=like, label=label)


def plan_entry_art(tree: Tree, profile: Profile, name: str, still: Path) -> Plan:
    """The plan that puts the frame in as the entry's pictures of the kind `art`, where its menu has such."""
    found = _find_entry(tree, profile, name)
    if found is None:
        return Plan("", ())
    menu, entry = found
    if not any(one.kind == "art" for one in menu.rule.pictures):
        return Plan("", ())
    try:
        return plan_icon(tree, profile, menu, entry, "art", still)
    except CardwrightError as error:
        return Plan("", (), notes=(f"The entry {shown(entry.name)} gets no art: {error.message}",))


def _find_entry(tree: Tree, profile: Profile, name: str) -> tuple[Menu, Entry] | None:
    rule = profile.animation.entry if profile.animation is not None else None
    if rule is None:
        return None
    menu = _find_menu(tree, profile, rule.menu)
    wanted = rule.name.replace("{name}", name)
    return next(((menu, one) for one in menu.entries if one.name == wanted), None)


def _find_menu(tree: Tree, profile: Profile, menu_id: str) -> Menu:
    for menu in read_menus(tree, profile, menu_id):
        if menu.id == menu_id:
            return menu
    raise EntryError(
        f"the profile registers animations in the menu {shown(menu_id)}, which this card does not have; "
        "nothing was changed."
    )


def _follow(
    tree: Tree, rule: AnimationRule, name: str, others: list[Animation]
) -> tuple[IconFormat, tuple[int, int] | None]:
    """Format and size of another animation's art; else what the file's suffix says."""
    assert rule.art is not None
    for one in others:
        at = place(rule.art.file, one.name)
        if one.name != name and is_file(tree, at):
            try:
                return read_format(tree.read(at))
            except CardwrightError:
                continue
    suffix = "." + rule.art.file.path.rpartition(".")[2]
    plain = plain_format(suffix) or plain_format(".png")
    assert plain is not None
    return replace(plain, has_alpha=False) if plain.container == "png" else plain, None

"""The text that the device shows for an entry, edited in place in whatever manifest it stands.

Where the device shows the name itself there is no such text: that is said, with what a rename would show.
"""

from __future__ import annotations

from workbench.card.labels import LabelPlace, find_label_places
from workbench.card.menu import Entry, Menu, read_rule_menus, stem_of
from workbench.card.paths import VolumePath
from workbench.card.profile import LabelRule, Profile
from workbench.card.reference import Blocked
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import CardError, EntryError, ManifestError
from workbench.jobs.placing import put_text
from workbench.jobs.rename import say_blocked
from workbench.jobs.reworking import Reworked
from workbench.order.prefixes import SEPARATORS, split_prefix
from workbench.shown import shown
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class LabelFacts:
    """What the device shows for an entry, and where that comes from."""

    is_apart: bool
    """Whether the device shows a text of its own for entries of this menu: then `plan_label` can set it."""
    is_set: bool
    """Whether this entry has such a text now; without one the device shows its name."""
    shown: str
    """What stands on the device's screen now."""
    sentence: str
    """For a person: where the text comes from, or that the name is shown and what its prefix looks like."""


def describe_label(menu: Menu, entry: Entry) -> LabelFacts:
    """Whether the device shows a label apart from the name. Pure; the menu was read with its labels."""
    rule, on_screen = menu.rule.label, entry.label
    if rule is not None and entry.has_label:
        sentence = f"The device shows {shown(on_screen)!r}, which stands in {_name_file(menu, rule)}."
        return LabelFacts(True, True, on_screen, sentence)
    sentence = _say_name(menu, entry)
    if rule is not None:
        sentence += f" A text of its own can be given to it in {_name_file(menu, rule)}."
    return LabelFacts(rule is not None, False, on_screen, sentence)


def _name_file(menu: Menu, rule: LabelRule) -> str:
    return shown(str(rule.file).replace("{parent}", menu.parent or ""))


def _say_name(menu: Menu, entry: Entry) -> str:
    """That the name is shown, and what becomes of its prefix."""
    sentence = f"The device shows the name itself: {shown(entry.label)!r}."
    if not entry.prefix:
        return sentence
    prefix = shown(entry.prefix.rstrip())
    if menu.rule.prefix.shown:
        return f"{sentence} The prefix {prefix!r} is seen on its screen too."
    return f"{sentence} It leaves out the prefix {prefix!r}, which only serves the order."


def plain_name(menu: Menu, name: str) -> str:
    """A name as a person would say it: without its prefix, and without the suffix of a file."""
    separators = tuple(one for one in dict.fromkeys((menu.rule.prefix.separator, *SEPARATORS)) if one)
    siblings = [entry.name for entry in menu.entries if entry.name != name]
    return split_prefix(stem_of(name, menu.rule), separators, siblings)[1]


def plan_label(tree: Tree, profile: Profile, menu: Menu, entry: Entry, text: str) -> Plan:
    """The plan that makes the device show `text` for the entry; its name stays.

    Raises:
        EntryError: the device shows the name itself (rename the entry instead), or nothing gives this entry
            a place for a label.
        ManifestError: its format cannot hold that text. (A malformed manifest is a conflict of the plan.)
        CardError: the volume or the manifest is not there.
    """
    rule = menu.rule.label
    if rule is None:
        raise _refuse_name(menu, entry, text)
    if not text.strip():
        raise EntryError(
            f"an empty label would leave an empty line in the menu, so {shown(entry.name)} keeps its own; "
            "nothing was changed. Give a text.",
            path=str(entry.at),
        )
    title = f"Show {entry.name} as {text}"
    try:
        place = _choose_place(tree, profile, menu, entry, rule)
    except ManifestError as error:
        blocked = Blocked(VolumePath.parse(error.path or str(rule.file)), rule.format, error)
        return Plan(title, (), conflicts=(say_blocked(tree, blocked),))
    if place.node is not None and place.node.text == text:
        return Plan(title, (), notes=(f"The device shows {shown(text)!r} already.",))
    reworked = Reworked(place.document, tree.resolve(place.at), profile.variables)
    try:
        reworked.do(lambda document: put_text(document, place.pointer, text))
    except ManifestError as error:
        raise _cannot_hold(place, entry, text, error) from error
    write = reworked.write()
    plan = Plan(title, (write,) if write else (), notes=_notes(place, entry, text))
    _check_shown(tree, profile, menu, entry, text, plan)
    return plan.wished("label", entry=entry.name, text=text, menu=menu.id)


def _refuse_name(menu: Menu, entry: Entry, text: str) -> EntryError:
    if menu.rule.prefix.shown:
        advice = "Rename it to change what is shown; a prefix in front will be seen too."
    else:
        advice = "Rename it to change what is shown; a prefix in front is left out on the screen."
    return EntryError(
        f"this device shows no label apart from the name in the menu {shown(menu.id)}, so "
        f"{shown(entry.name)} cannot be shown as {shown(text)!r} under its present name; "
        f"nothing was changed. {advice}",
        path=str(entry.at),
    )


def _choose_place(tree: Tree, profile: Profile, menu: Menu, entry: Entry, rule: LabelRule) -> LabelPlace:
    """The place that the device reads for this entry, or where it would look for a text."""
    if rule.file.volume not in tree.roles():
        raise CardError(
            f"the volume {rule.file.volume} is absent, and the shown names stand on it; nothing was changed. "
            "Put it in first.",
            path=str(rule.file),
        )
    places = find_label_places(tree, profile, menu, entry)
    if not places:
        raise EntryError(
            f"nothing in {rule.file} is about {shown(entry.name)}, so no label can be given to it there; "
            "nothing was changed. Register it in that file first.",
            path=str(rule.file),
        )
    return next((place for place in places if place.node is not None), places[0])


def _cannot_hold(place: LabelPlace, entry: Entry, text: str, error: ManifestError) -> ManifestError:
    return ManifestError(
        f"{place.at} cannot take {shown(text)!r} for {shown(entry.name)}: {error.message.rstrip('.')}. "
        "Nothing was changed.",
        path=str(place.at),
        line=error.line,
    )


def _notes(place: LabelPlace, entry: Entry, text: str) -> tuple[str, ...]:
    notes = []
    if place.node is None:
        notes.append(f"{place.at} gives {entry.name} no text yet; it is added at {shown(place.pointer)}.")
    if any(not char.isprintable() for char in text):
        notes.append(
            "The text holds a line end or another sign that cannot be seen; the device may not take it."
        )
    return tuple(notes)


def _check_shown(tree: Tree, profile: Profile, menu: Menu, entry: Entry, text: str, plan: Plan) -> None:
    """Read the menu as it would be: the label must come out as it was given."""
    for found in read_rule_menus(plan.on(tree), profile, menu.rule, labels=True):
        for other in found.entries:
            if other.at == entry.at and other.label != text:
                place = plan.steps[0].at if plan.steps and hasattr(plan.steps[0], "at") else entry.at
                raise ManifestError(
                    f"{place} cannot hold {shown(text)!r} for {shown(entry.name)}: it would be read as "
                    f"{shown(other.label)!r}. Nothing was changed; give another text, without white space "
                    "at its ends.",
                    path=str(place),
                )

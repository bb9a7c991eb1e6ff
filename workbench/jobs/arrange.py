"""The order of a menu: a whole order, one entry's place, numbers for all, or no prefixes at all.

Where the device sorts by name, a prefix makes the order; it is replaced, never stacked. Where the device
lists a folder as the folder lists itself, every name is moved out and back in, in the order wanted.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Literal

from workbench.card.menu import Entry, Menu
from workbench.card.profile import PrefixStyle, Profile
from workbench.card.references import find_all_references
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import EntryError
from workbench.jobs.listing import plan_listing
from workbench.jobs.order_names import check_separator, check_wanted, choose_order_names
from workbench.jobs.order_notes import say_prefixes, say_stripped
from workbench.jobs.rename import plan_rename
from workbench.jobs.renames import plan_renames
from workbench.order.prefixes import number_names
from workbench.shown import shown
from workbench.values import dataclass, replace

__all__ = [
    "Kind",
    "Place",
    "choose_order_names",
    "place_name",
    "place_names",
    "plan_number",
    "plan_order",
    "plan_place",
    "plan_strip_all",
    "read_taken",
    "weigh_entries",
]

Kind = Literal["first", "last", "before", "after", "strip"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where an entry should go."""

    kind: Kind
    other: Entry | None = None
    """The neighbour, for `before` and `after`."""


def plan_order(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    wanted: Sequence[str],
    *,
    style: PrefixStyle | None = None,
    separator: str | None = None,
    title: str = "",
    carried: Collection[str] = (),
) -> Plan:
    """The plan that puts a whole menu in this order, with the least renaming that gives it.

    Args:
        wanted: the present names of all the menu's entries, in the wanted order.
        carried: entries that the person moved; where the work is equal, these are renamed.

    Raises:
        OrderRefusedError: no prefix can give it; `nearest` holds the nearest order that can be had.
        EntryError: `wanted` does not name every entry once, or the folder's own order cannot be set here.
        NameRefusedError: a name that would be needed could not survive.
    """
    title = title or f"Put {menu.id} in order"
    check_wanted(menu, wanted)
    if [entry.name for entry in menu.entries] == list(wanted):
        return Plan(title, (), notes=("The menu has that order already.",))
    if menu.order == "directory":
        return plan_listing(tree, menu.root, wanted, title)
    renames = choose_order_names(
        menu,
        wanted,
        names=profile.volumes[menu.root.volume].names,
        taken=read_taken(tree, menu),
        weights=weigh_entries(tree, profile, menu),
        style=style,
        separator=separator,
        carried=carried,
    )
    plan = plan_renames(tree, profile, menu, renames, title=title)
    return replace(plan, notes=(*plan.notes, *say_prefixes(menu, renames)))


def plan_place(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    place: Place,
    *,
    style: PrefixStyle | None = None,
    separator: str | None = None,
) -> Plan:
    """The plan that puts one entry there.

    Raises:
        as `plan_order`.
    """
    if place.kind == "strip":
        return _plan_strip(tree, profile, menu, entry)
    names = [found.name for found in menu.entries]
    wanted = place_name(names, entry.name, place)
    if names == wanted:
        return Plan(_title(entry, place), (), notes=(f"{entry.name} is there already.",))
    return plan_order(
        tree,
        profile,
        menu,
        wanted,
        style=style,
        separator=separator,
        title=_title(entry, place),
        carried=(entry.name,),
    )


def plan_number(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    *,
    separator: str | None = None,
) -> Plan:
    """Number all entries in the order they have: equal width, with gaps (`010 Boats`, `020 Kites`).

    Raises:
        NameRefusedError: a numbered name is too long, or taken.
        EntryError: the separator could not be told from the names.
    """
    sign = check_separator(menu, separator)
    rests = [entry.name[len(entry.prefix) :] for entry in menu.entries]
    numbered = number_names(rests, sign)
    renames = {
        entry.name: new for entry, new in zip(menu.entries, numbered, strict=True) if entry.name != new
    }
    title = f"Number the entries of {menu.id}"
    if not renames:
        return Plan(title, (), notes=("The entries are numbered already.",))
    plan = plan_renames(tree, profile, menu, renames, title=title)
    return replace(plan, notes=(*plan.notes, *say_prefixes(menu, renames)))


def plan_strip_all(tree: Tree, profile: Profile, menu: Menu) -> Plan:
    """Take every prefix off; the order is then that of the bare names, and a note says so.

    Raises:
        NameRefusedError: a bare name is taken, or two entries have the same.
    """
    renames = {entry.name: entry.name[len(entry.prefix) :] for entry in menu.entries if entry.prefix}
    title = f"Strip the prefixes of {menu.id}"
    if not renames:
        return Plan(title, (), notes=("No entry has a prefix.",))
    plan = plan_renames(tree, profile, menu, renames, title=title)
    return replace(plan, notes=(*plan.notes, *say_stripped(menu, renames)))


def read_taken(tree: Tree, menu: Menu) -> tuple[str, ...]:
    """The names in the menu's folder that are no entries of it: hidden ones, files beside folders."""
    own = {entry.name for entry in menu.entries}
    return tuple(item.name for item in tree.list(menu.root) if item.name not in own)


def weigh_entries(tree: Tree, profile: Profile, menu: Menu) -> dict[str, int]:
    """How many references each entry has, by name: reads every manifest that the rules name, once."""
    found = find_all_references(tree, profile)
    return {entry.name: len(found.get(entry.at, ())) for entry in menu.entries}


def place_name(names: Sequence[str], name: str, place: Place) -> list[str]:
    """The wanted order of the names."""
    other = place.other.name if place.other is not None else None
    return place_names(names, [name], place.kind, other)


def place_names(
    names: Sequence[str], moved: Sequence[str], kind: Kind, other: str | None = None
) -> list[str]:
    """The wanted order once several names, in the order given, stand first, last, before or after another."""
    rest = [name for name in names if name not in set(moved)]
    if kind == "first":
        return [*moved, *rest]
    if kind == "last":
        return [*rest, *moved]
    if other not in rest:
        raise EntryError("say beside which other entry of the same menu it should go; nothing was changed")
    at = rest.index(other) + (kind == "after")
    return [*rest[:at], *moved, *rest[at:]]


def _plan_strip(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    if not entry.prefix:
        return Plan(f"Strip the prefix of {entry.name}", (), notes=(f"{entry.name} has no prefix.",))
    return plan_rename(tree, profile, menu, entry, entry.name[len(entry.prefix) :])


def _title(entry: Entry, place: Place) -> str:
    if place.other is not None:
        return f"Place {shown(entry.name)} {place.kind} {shown(place.other.name)}"
    return {"first": f"Send {entry.name} first", "last": f"Send {entry.name} last"}[place.kind]

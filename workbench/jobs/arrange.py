"""The order of a menu: a whole order, one entry's place, numbers for all, or no prefixes at all.

Where the device sorts by name, a prefix makes the order; it is replaced, never stacked. Where the device
lists a folder as the folder lists itself, every name is moved out and back in, in the order wanted.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence

from workbench.card.menu import Entry, Menu
from workbench.card.menu_search import MenuSearch
from workbench.card.name_index import list_names
from workbench.card.profile import PrefixStyle, Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import EntryError
from workbench.jobs.listing import plan_listing
from workbench.jobs.order_names import check_separator, check_wanted, choose_order_names
from workbench.jobs.order_notes import say_prefixes, say_stripped
from workbench.jobs.renames import plan_renames
from workbench.order.prefixes import number_names
from workbench.shown import shown
from workbench.typed import Literal
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
    "say_place",
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
        is_one = len(carried) == 1
        there = f"{next(iter(carried))} is there already." if is_one else "The menu has that order already."
        return Plan(title, (), notes=(there,))
    if menu.order == "directory":
        return plan_listing(tree, menu.root, wanted, title).wished(
            "arrange", order=list(wanted), menu=menu.id
        )
    read = MenuSearch(tree, profile, menu)
    renames = choose_order_names(
        menu,
        wanted,
        names=profile.volumes[menu.root.volume].names,
        taken=read_taken(tree, menu),
        weights=read.count(),
        style=style,
        separator=separator,
        carried=carried,
    )
    plan = plan_renames(tree, profile, menu, renames, title=title, read=read)
    told = replace(plan, notes=(*plan.notes, *say_prefixes(menu, renames)))
    return told.wished(
        "arrange", order=list(wanted), menu=menu.id, style=style, separator=separator, carried=list(carried)
    )


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
        return plan_strip_all(tree, profile, menu, names=(entry.name,))
    names = [found.name for found in menu.entries]
    return plan_order(
        tree,
        profile,
        menu,
        place_name(names, entry.name, place),
        style=style,
        separator=separator,
        title=say_place([entry.name], place.kind, place.other.name if place.other else None),
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
    told = replace(plan, notes=(*plan.notes, *say_prefixes(menu, renames)))
    return told.wished("arrange", number=True, menu=menu.id, separator=separator)


def plan_strip_all(tree: Tree, profile: Profile, menu: Menu, *, names: Collection[str] | None = None) -> Plan:
    """Take every prefix off; the order is then that of the bare names, and a note says so.

    Args:
        names: only of these entries.

    Raises:
        NameRefusedError: a bare name is taken, or two entries have the same.
    """
    asked = [entry for entry in menu.entries if names is None or entry.name in names]
    renames = {entry.name: entry.name[len(entry.prefix) :] for entry in asked if entry.prefix}
    title = f"Strip the prefix of {asked[0].name}" if len(asked) == 1 else f"Strip the prefixes of {menu.id}"
    if not renames:
        nobody = f"{asked[0].name} has no prefix." if len(asked) == 1 else "No entry has a prefix."
        return Plan(title, (), notes=(nobody,))
    plan = plan_renames(tree, profile, menu, renames, title=title)
    told = replace(plan, notes=(*plan.notes, *say_stripped(menu, renames)))
    entries = None if names is None else [entry.name for entry in asked]
    return told.wished("arrange", strip=True, menu=menu.id, entries=entries)


def read_taken(tree: Tree, menu: Menu) -> tuple[str, ...]:
    """The names in the menu's folder that are no entries of it: hidden ones, files beside folders."""
    own = {entry.name for entry in menu.entries}
    return tuple(name for name in list_names(tree, menu.root) if name not in own)


def weigh_entries(tree: Tree, profile: Profile, menu: Menu) -> dict[str, int]:
    """How many references each entry has, by name: reads every manifest that the rules name, once."""
    return MenuSearch(tree, profile, menu).count()


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


def say_place(moved: Sequence[str], kind: Kind, other: str | None = None) -> str:
    """The title of a plan that places entries."""
    who = shown(moved[0]) if len(moved) == 1 else f"{len(moved)} entries"
    return f"Place {who} {kind} {shown(other)}" if other is not None else f"Send {who} {kind}"

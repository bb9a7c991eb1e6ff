"""Place one entry: first, last, before or after another, or without its prefix.

Where the device sorts by name, a prefix makes the order; it is replaced, never stacked. Where the device
lists a folder as the folder lists itself, every name is moved out and back in, in the order wanted.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from workbench.card.menu import Entry, Menu
from workbench.card.names import find_fault, fold_name
from workbench.card.profile import NamesRule, PrefixStyle, Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.errors import EntryError
from workbench.jobs.listing import plan_listing
from workbench.jobs.rename import plan_rename
from workbench.order.collation import sort_key
from workbench.order.prefixes import choose_prefix, split_prefix
from workbench.values import dataclass, replace

Kind = Literal["first", "last", "before", "after", "strip"]


@dataclass(frozen=True, slots=True)
class Place:
    """Where an entry should go."""

    kind: Kind
    other: Entry | None = None
    """The neighbour, for `before` and `after`."""


def plan_place(
    tree: Tree, profile: Profile, menu: Menu, entry: Entry, place: Place, *, style: PrefixStyle | None = None
) -> Plan:
    """The plan that puts an entry there.

    Raises:
        EntryError: no prefix can give the order, or the folder's own order cannot be set on this disk.
        NameRefusedError: the new name would not survive.
    """
    if place.kind == "strip":
        return _plan_strip(tree, profile, menu, entry)
    wanted = place_name([found.name for found in menu.entries], entry.name, place)
    if [found.name for found in menu.entries] == wanted:
        return Plan(_title(entry, place), (), notes=(f"{entry.name} is there already.",))
    if menu.order == "directory":
        return plan_listing(tree, menu.root, wanted, _title(entry, place))
    return _plan_prefix(tree, profile, menu, entry, place, wanted, style or menu.rule.prefix.style)


def plan_order(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    wanted: Sequence[str],
    *,
    style: PrefixStyle | None = None,
    separator: str | None = None,
    title: str = "",
) -> Plan:
    """The plan that puts a whole menu in this order, with the least renaming that gives it.

    Args:
        wanted: the present names of all the menu's entries, in the wanted order.

    Raises:
        OrderRefusedError: no prefix can give it; `nearest` holds the nearest order that can be had.
        EntryError: `wanted` does not name every entry once, or the folder's own order cannot be set here.
        NameRefusedError: a name that would be needed could not survive.
    """
    raise NotImplementedError


def choose_order_names(
    menu: Menu,
    wanted: Sequence[str],
    *,
    names: NamesRule,
    taken: Collection[str] = (),
    weights: Mapping[str, int] = MappingProxyType({}),
    style: PrefixStyle | None = None,
    separator: str | None = None,
) -> dict[str, str]:
    """Old name → new name for the entries that have to be renamed. Pure: nothing is read.

    For a menu in `directory` order it is empty: names are moved there, not changed.

    Args:
        names: the rule for names of the menu's volume (`profile.volumes[menu.root.volume].names`).
        taken: the other names in the menu's folder (`read_taken`).
        weights: references that a rename of an entry would touch, by its name (`weigh_entries`); one that
            is missing counts 1.

    Raises:
        OrderRefusedError: as `plan_order`.
    """
    raise NotImplementedError


def read_taken(tree: Tree, menu: Menu) -> tuple[str, ...]:
    """The names in the menu's folder that are no entries of it: hidden ones, files beside folders."""
    raise NotImplementedError


def weigh_entries(tree: Tree, profile: Profile, menu: Menu) -> dict[str, int]:
    """How many references each entry has, by name: reads every manifest that the rules name, once."""
    raise NotImplementedError


def plan_number(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    *,
    separator: str | None = None,
) -> Plan:
    """Number all entries in the order they have: equal width, with gaps (`010 Boats`, `020 Kites`)."""
    raise NotImplementedError


def plan_strip_all(tree: Tree, profile: Profile, menu: Menu) -> Plan:
    """Take every prefix off; the order is then that of the bare names."""
    raise NotImplementedError


def place_name(names: Sequence[str], name: str, place: Place) -> list[str]:
    """The wanted order of the names."""
    rest = [other for other in names if other != name]
    if place.kind == "first":
        return [name, *rest]
    if place.kind == "last":
        return [*rest, name]
    if place.other is None or place.other.name not in rest:
        raise EntryError("say beside which other entry of the same menu it should go")
    at = rest.index(place.other.name) + (place.kind == "after")
    return [*rest[:at], name, *rest[at:]]


def _plan_strip(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> Plan:
    prefix, rest = _split(menu, entry)
    if not prefix:
        return Plan(f"Strip the prefix of {entry.name}", (), notes=(f"{entry.name} has no prefix.",))
    return plan_rename(tree, profile, menu, entry, rest)


def _split(menu: Menu, entry: Entry) -> tuple[str, str]:
    siblings = [found.name for found in menu.entries if found is not entry]
    return split_prefix(entry.name, siblings=siblings)


def _plan_prefix(
    tree: Tree,
    profile: Profile,
    menu: Menu,
    entry: Entry,
    place: Place,
    wanted: list[str],
    style: PrefixStyle,
) -> Plan:
    """Rename the entry; where no prefix reaches past its neighbours, rename those beyond it too."""
    names = {found.name: found for found in menu.entries}
    renames = choose_names(menu, tree, profile, wanted, entry.name, place, style)
    plan = Plan("", ())
    for old, new in renames.items():
        plan = plan.then(plan_rename(plan.on(tree), profile, menu, names[old], new))
    return replace(plan, title=_title(entry, place))


def choose_names(
    menu: Menu,
    tree: Tree,
    profile: Profile,
    wanted: Sequence[str],
    moved: str,
    place: Place,
    style: PrefixStyle,
) -> dict[str, str]:
    """Old name → new name for the fewest entries around the moved one that give the wanted order.

    Raises:
        EntryError: no prefix of this style can give it, with the name in the way.
    """
    here = wanted.index(moved)
    for width in range(len(wanted)):
        for start, end in _windows(here, width, len(wanted), grows_up=place.kind in ("first", "before")):
            chosen = _name_window(menu, tree, profile, wanted, (start, end), style)
            if chosen is not None:
                return {old: new for old, new in chosen.items() if old != new}
    raise EntryError(
        f"no prefix in the style '{style}' puts {moved} there under the order '{menu.order}'; "
        "nothing was changed. Try another style of prefix, or rename its neighbours first.",
        path=str(menu.root),
    )


def _windows(here: int, width: int, count: int, *, grows_up: bool) -> list[tuple[int, int]]:
    down, up = (here, here + width + 1), (here - width, here + 1)
    both = [down, up] if grows_up else [up, down]
    return [(start, end) for start, end in dict.fromkeys(both) if start >= 0 and end <= count]


def _name_window(
    menu: Menu,
    tree: Tree,
    profile: Profile,
    wanted: Sequence[str],
    window: tuple[int, int],
    style: PrefixStyle,
) -> dict[str, str] | None:
    """New names for `wanted[start:end]` that sort between the names around it, or None."""
    start, end = window
    after = wanted[start - 1] if start else None
    before = wanted[end] if end < len(wanted) else None
    entries = {found.name: found for found in menu.entries}
    separator, key = menu.rule.prefix.separator, sort_key(menu.order)
    chosen: dict[str, str] = {}
    for number, old in enumerate(wanted[start:end]):
        is_taken = _taken_names(menu, tree, profile, old, chosen)
        rest = _split(menu, entries[old])[1]
        share = 1 / (end - start - number + 1)
        # An entry beside the moved one is here because its bare name is in the way: it needs a prefix.
        is_alone = end - start == 1
        prefix = choose_prefix(
            rest, after, before, key, style, separator, is_taken, share, may_be_bare=is_alone
        )
        if prefix is None:
            return None
        chosen[old] = after = prefix + rest
    return chosen


def _taken_names(
    menu: Menu, tree: Tree, profile: Profile, old: str, chosen: dict[str, str]
) -> Callable[[str], bool]:
    """Whether a whole name is illegal, or the same to the device as one that stays or was just chosen."""
    rule = profile.volumes[menu.root.volume].names
    kept = [item.name for item in tree.list(menu.root) if item.name not in (old, *chosen)]
    beside = {fold_name(name, rule) for name in (*kept, *chosen.values())}
    limit = menu.rule.prefix.limit
    return lambda name: find_fault(name, rule, limit) is not None or fold_name(name, rule) in beside


def _title(entry: Entry, place: Place) -> str:
    if place.other is not None:
        return f"Place {entry.name} {place.kind} {place.other.name}"
    return {"first": f"Send {entry.name} first", "last": f"Send {entry.name} last"}[place.kind]

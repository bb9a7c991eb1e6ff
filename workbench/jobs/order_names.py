"""Which names a menu's entries need for an order. Pure: nothing is read, so that it can be shown at each key.

The nearest order that can be had, where the wanted one cannot: as few entries as possible keep their present
names and stand wherever these sort; all others stand as wanted among themselves.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from types import MappingProxyType

from workbench.card.globs import matches_any
from workbench.card.menu import Menu
from workbench.card.names import LONGEST, count_units, find_fault, fold_name
from workbench.card.profile import NamesRule, PrefixStyle
from workbench.errors import EntryError, OrderRefusedError
from workbench.order.arrangement import Arrangement, Names, Signs, Wish
from workbench.order.collation import sort_names
from workbench.order.prefixes import list_pools, numbered_width
from workbench.shown import shown

_NO_WEIGHTS: Mapping[str, int] = MappingProxyType({})
_MANY = 8


def choose_order_names(
    menu: Menu,
    wanted: Sequence[str],
    *,
    names: NamesRule,
    taken: Collection[str] = (),
    weights: Mapping[str, int] = _NO_WEIGHTS,
    style: PrefixStyle | None = None,
    separator: str | None = None,
    carried: Collection[str] = (),
) -> dict[str, str]:
    """Old name → new name for the entries that have to be renamed, with the least work that gives the order.

    Least: the lowest total weight, then the fewest renames, then the carried entries rather than their
    neighbours, then the fewest and the plainest prefixes. In a menu in `directory` order names are moved,
    not changed, and none is returned.

    Args:
        wanted: the present names of all entries, in the wanted order.
        names: the rule for names of the menu's volume (`profile.volumes[menu.root.volume].names`).
        taken: the other names in the menu's folder (`read_taken`).
        weights: references that a rename of an entry would touch, by its name; one that is missing counts 1.
        carried: entries that the person moved.

    Raises:
        OrderRefusedError: no prefix can give it; `nearest` holds the nearest order that can be had.
        EntryError: `wanted` does not name every entry once.
    """
    check_wanted(menu, wanted)
    if menu.order == "directory" or [entry.name for entry in menu.entries] == list(wanted):
        return {}
    sign = check_separator(menu, separator)
    wishes = _make_wishes(menu, wanted, names, weights, carried)
    asked = style or menu.rule.prefix.style
    nearest: Names | None = None
    for signs in _list_signs(menu, asked, sign):
        arrangement = Arrangement(
            wishes,
            menu.order,
            signs,
            fold=lambda name: fold_name(name, names),
            taken=taken,
            is_shown=_shown_check(menu, names),
        )
        found = arrangement.find()
        if found is not None and _are_known_again(wishes, found.names, sign):
            pairs = zip(wanted, found.names, strict=True)
            return {old: new for old, new in pairs if old != new}
        nearest = nearest or arrangement.find(out=True)
    raise _refuse(menu, wanted, wishes, nearest, asked)


def check_wanted(menu: Menu, wanted: Sequence[str]) -> None:
    """Refuse a whole order that does not name every entry of the menu exactly once."""
    counts, there = Counter(wanted), {entry.name for entry in menu.entries}
    unknown = [name for name in counts if name not in there]
    repeated = [name for name, count in counts.items() if count > 1]
    missing = [entry.name for entry in menu.entries if entry.name not in counts]
    said = [
        f"{what}: {', '.join(map(shown, found))}"
        for what, found in (("unknown", unknown), ("named twice", repeated), ("missing", missing))
        if found
    ]
    if said:
        raise EntryError(
            f"the order has to name every entry of the menu {shown(menu.id)} once ({'; '.join(said)}); "
            "nothing was changed. See: cardwright menu CARD",
            path=str(menu.root),
        )


def check_separator(menu: Menu, separator: str | None) -> str:
    """The separator to use, the user's or the profile's; refused where no prefix could be told by it."""
    sign = menu.rule.prefix.separator if separator is None else separator
    if not sign or sign[0].isalnum() or sign[0] in "!~/" or find_fault(f"a{sign}a", "fat") is not None:
        raise EntryError(
            f"{shown(sign)!r} cannot stand between a prefix and a name, since the two could not be told "
            "apart again; nothing was changed. Take a space, '-', '_' or '.' with --separator.",
            path=str(menu.root),
        )
    return sign


def _list_signs(menu: Menu, style: PrefixStyle, separator: str) -> Iterator[Signs]:
    """What to try, one after the other: numbers have one width, that of the menu's own if it has any."""
    names = [entry.name for entry in menu.entries]
    width = numbered_width(names, separator)
    if style != "numbers":
        pools = list_pools(style)
        number_pool = next(
            (at for at, pool in enumerate(pools) if width is not None and pool[0] == "0" * width), None
        )
        first = frozenset(() if number_pool is None else (number_pool,))
        yield Signs(pools, separator, first_pools=first)
        return
    for digits in dict.fromkeys(one for one in (width, 3, 4) if one):
        for bare in (True, False):
            yield Signs(list_pools("numbers", digits, bare=bare), separator, nested=True)


def _make_wishes(
    menu: Menu,
    wanted: Sequence[str],
    names: NamesRule,
    weights: Mapping[str, int],
    carried: Collection[str],
) -> list[Wish]:
    prefixes = {entry.name: entry.prefix for entry in menu.entries}
    limit = min(menu.rule.prefix.limit, LONGEST)
    is_shown = _shown_check(menu, names, always=True)
    wishes = []
    for name in wanted:
        rest = name[len(prefixes[name]) :]
        # Whatever its prefix, a rest with a fault cannot be written; one that is only too long has no room.
        is_sound = find_fault(f"a{rest}", names) is None or count_units(rest) >= LONGEST
        wishes.append(
            Wish(
                name,
                rest,
                weights.get(name, 1),
                limit - count_units(rest) if is_sound else -1,
                find_fault(rest, names, limit) is None and is_shown is not None and is_shown(rest),
                name in carried,
            )
        )
    return wishes


def _shown_check(menu: Menu, names: NamesRule, *, always: bool = False) -> Callable[[str], bool] | None:
    """Whether the device lists a name; None where a prefix can make no difference to that."""
    rule = menu.rule
    hide = [glob for glob in rule.hide if always or not glob.startswith((".", "_", "@", "$", "#"))]
    match = (
        [glob for glob in rule.match if always or not glob.startswith("*")] if rule.entries == "files" else []
    )
    if not (hide or match or always):
        return None
    fold = names == "fat"

    def is_shown(name: str) -> bool:
        wanted = rule.entries == "folders" or matches_any(name, rule.match, fold=fold)
        return wanted and not matches_any(name, rule.hide, fold=fold)

    return is_shown


def _are_known_again(wishes: Sequence[Wish], names: Sequence[str], separator: str) -> bool:
    """Whether each new prefix will be known as one: a bare number needs two others like it."""
    prefixes = [
        name[: -len(wish.rest)]
        for wish, name in zip(wishes, names, strict=True)
        if name != wish.name and name != wish.rest
    ]
    bare = {len(prefix) for prefix in prefixes if prefix[0] in "123456789"}
    return all(
        sum(name[: width - len(separator)].isdecimal() and name[:width].endswith(separator) for name in names)
        > 2
        for width in bare
    )


def _refuse(
    menu: Menu, wanted: Sequence[str], wishes: Sequence[Wish], nearest: Names | None, style: str
) -> OrderRefusedError:
    order: tuple[str, ...] = ()
    reason, near = "", ""
    if nearest is not None:
        old = dict(zip(nearest.names, wanted, strict=True))
        order = tuple(old[name] for name in sort_names(nearest.names, menu.order))
        out = [wanted[number] for number in nearest.out]
        reason = f": {_say_reason(menu, wishes, nearest)}" if nearest.out else ""
        near = f" The nearest order that can be had: {_list_names(order)} (out of place: {_list_names(out)})."
    return OrderRefusedError(
        f"no prefix in the style '{style}' gives this order under the order '{menu.order}'{reason}; "
        f"nothing was changed.{near} Try another style of prefix, or shorter names.",
        nearest=order,
        path=str(menu.root),
    )


def _say_reason(menu: Menu, wishes: Sequence[Wish], nearest: Names) -> str:
    number = nearest.out[0]
    wish, limit = wishes[number], min(menu.rule.prefix.limit, LONGEST)
    if wish.room < 2:
        return (
            f"{shown(wish.name)} has no room for a prefix, since the device takes names of at most {limit} "
            "characters"
            if wish.room >= 0 or count_units(wish.rest) >= limit - 1
            else f"{shown(wish.name)} holds what a new name may not hold"
        )
    placed = [n for n in range(len(wishes)) if n not in nearest.out]
    before = [nearest.names[n] for n in placed if n < number]
    behind = [nearest.names[n] for n in placed if n > number]
    between = " and ".join(
        [*(f"after {shown(name)}" for name in before[-1:]), *(f"before {shown(name)}" for name in behind[:1])]
    )
    return f"none puts {shown(wish.name)} {between or 'there'}"


def _list_names(names: Sequence[str]) -> str:
    said = ", ".join(shown(name) for name in names[:_MANY])
    return said + (f" and {len(names) - _MANY} more" if len(names) > _MANY else "")

"""`cardwright arrange CARD --first E… | --last E… | --before E OTHER | --after E OTHER | --order E… |
--order-from FILE | --number | --strip [E…]`.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import Opened, open_for_writing
from workbench.errors import EntryError, UsageError
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from workbench.card.menu import Entry, Menu
    from workbench.changes.plan import Plan
    from workbench.jobs.arrange import Kind


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    wish = parser.add_mutually_exclusive_group(required=True)
    for option, metavar, text in (
        ("--first", "ENTRY", "send them to the top, in this order"),
        ("--last", "ENTRY", "send them to the end, in this order"),
        ("--order", "ENTRY", "the whole menu in this order: every entry once"),
    ):
        wish.add_argument(option, nargs="+", action="extend", metavar=metavar, help=text)
    wish.add_argument("--before", nargs=2, metavar=("ENTRY", "OTHER"), help="place it before the other")
    wish.add_argument("--after", nargs=2, metavar=("ENTRY", "OTHER"), help="place it after the other")
    wish.add_argument(
        "--order-from", metavar="FILE", help="as --order, one name a line; - reads standard input"
    )
    wish.add_argument("--number", action="store_true", help="number all entries in the order they have")
    wish.add_argument(
        "--strip", nargs="*", action="extend", metavar="ENTRY", help="take prefixes off, all or these"
    )
    parser.add_argument("--menu", metavar="ID", help="the menu that is meant, where the card has several")
    parser.add_argument("--style", choices=("shortest", "numbers", "letters"), help="the prefixes' style")
    parser.add_argument(
        "--separator", metavar="SIGN", help="what stands behind a prefix: ' ', '-', '_' or '.'"
    )
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    check_consent(args)
    names = _read_names(args.order_from) if args.order_from is not None else None
    opened = open_for_writing(args)
    return carry_out(args, opened.card, _plan(args, opened, names))


def _plan(args: argparse.Namespace, opened: Opened, names: list[str] | None) -> Plan:
    from workbench.jobs.arrange import plan_number, plan_strip_all

    if args.number:
        menu = _only_menu(_menus(args, opened))
        return plan_number(opened.tree, opened.profile, menu, separator=args.separator)
    if args.strip == []:
        return plan_strip_all(opened.tree, opened.profile, _only_menu(_menus(args, opened)))
    if args.strip:
        menu, entries = _find_all(args, opened, args.strip)
        return plan_strip_all(opened.tree, opened.profile, menu, names=[entry.name for entry in entries])
    if names is None:
        names = args.order
    if names is not None:
        return _plan_whole(args, opened, names)
    return _plan_places(args, opened)


def _plan_places(args: argparse.Namespace, opened: Opened) -> Plan:
    """Some entries first, last, or beside another; the rest stays as it is."""
    from workbench.jobs.arrange import place_names, plan_order, say_place

    kind, names = _wish(args)
    menu, entries = _find_all(args, opened, names)
    other = entries.pop() if kind in ("before", "after") else None
    moved = list(dict.fromkeys(entry.name for entry in entries))
    wanted = place_names([entry.name for entry in menu.entries], moved, kind, other.name if other else None)
    return plan_order(
        opened.tree,
        opened.profile,
        menu,
        wanted,
        style=args.style,
        separator=args.separator,
        title=say_place(moved, kind, other.name if other else None),
        carried=moved,
    )


def _plan_whole(args: argparse.Namespace, opened: Opened, names: Sequence[str]) -> Plan:
    """Every entry of one menu once; what is unknown, repeated or missing is named."""
    from workbench.jobs.arrange import plan_order

    menus = _menus(args, opened)
    menu = menus[0] if len(menus) == 1 else _menu_of(menus, names)
    there = {entry.name for entry in menu.entries}
    return plan_order(
        opened.tree,
        opened.profile,
        menu,
        [name if name in there else _present_name(menu, name) for name in names],
        style=args.style,
        separator=args.separator,
    )


def _menus(args: argparse.Namespace, opened: Opened) -> tuple[Menu, ...]:
    from workbench.card.menu import read_menus

    return read_menus(opened.tree, opened.profile, args.menu)


def _only_menu(menus: Sequence[Menu]) -> Menu:
    if len(menus) == 1:
        return menus[0]
    known = ", ".join(menu.id for menu in menus)
    raise UsageError(f"the card has several menus; say which with --menu: {known}")


def _menu_of(menus: Sequence[Menu], names: Sequence[str]) -> Menu:
    """The menu that most of the names are in."""
    counts = {menu.id: len({entry.name for entry in menu.entries}.intersection(names)) for menu in menus}
    best = [menu for menu in menus if counts[menu.id] == max(counts.values())]
    return best[0] if len(best) == 1 else _only_menu(menus)


def _present_name(menu: Menu, text: str) -> str:
    """The name of the entry that is meant, or the text itself, where none is or several could be."""
    from workbench.card.menu import find_entry

    try:
        return find_entry([menu], text)[1].name
    except EntryError:
        return text


def _find_all(args: argparse.Namespace, opened: Opened, names: Sequence[str]) -> tuple[Menu, list[Entry]]:
    """The entries that are named, all of one menu."""
    from workbench.card.menu import find_entry

    menus = _menus(args, opened)
    found = [find_entry(menus, name) for name in names]
    strange = next(
        (name for name, (menu, _) in zip(names, found, strict=True) if menu.id != found[0][0].id), None
    )
    if strange is not None:
        raise UsageError(f"{names[0]} and {strange} are not in one menu")
    return found[0][0], [entry for _, entry in found]


def _wish(args: argparse.Namespace) -> tuple[Kind, list[str]]:
    kinds: tuple[Kind, ...] = ("first", "last", "before", "after")
    for kind in kinds:
        found: list[str] | None = getattr(args, kind)
        if found is not None:
            return kind, found
    raise UsageError("say where the entry should go")


def _read_names(source: str) -> list[str]:
    """One name a line, from a file or standard input; empty lines count for nothing."""
    try:
        if source == "-":
            raw = sys.stdin.buffer.read()
        else:
            with open(source, "rb") as file:
                raw = file.read()
    except OSError as error:
        raise UsageError(
            f"the order cannot be read ({error.strerror}); nothing was changed", path=source
        ) from error
    text = raw.removeprefix(b"\xef\xbb\xbf").decode("utf-8", "surrogateescape")
    names = [line.removesuffix("\r") for line in text.split("\n")]
    return [name for name in names if name.strip()]

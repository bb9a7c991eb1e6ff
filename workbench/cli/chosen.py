"""The entry that a command is about: `ENTRY`, `MENU:NAME`, or a name with `--menu`."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from workbench.cli.opened import Opened

if TYPE_CHECKING:
    from workbench.card.menu import Entry, Menu


def add_menu_argument(parser: argparse.ArgumentParser) -> None:
    """`--menu ID`."""
    parser.add_argument("--menu", metavar="ID", help="look in this menu only")


def choose_entry(args: argparse.Namespace, opened: Opened, text: str) -> tuple[Menu, Entry]:
    """The entry of that name, in `--menu` where given; its menu read without labels.

    Raises:
        EntryError: none fits, or several do; or there is no such menu.
    """
    from workbench.card.menu import locate_entry

    return locate_entry(opened.tree, opened.profile, text, args.menu)


def choose_labelled(args: argparse.Namespace, opened: Opened, text: str) -> tuple[Menu, Entry]:
    """As `choose_entry`, with what the device shows for each entry."""
    from workbench.card.menu import find_entry, read_menus

    return find_entry(read_menus(opened.tree, opened.profile, args.menu), text)


def choose_menu(args: argparse.Namespace, opened: Opened, name: str) -> tuple[Menu, str]:
    """The menu for a new entry, and the name: from `--menu`, from `MENU:NAME`, or the only menu there is.

    Raises:
        UsageError: the card has several menus and none was named; with their ids.
        EntryError: there is no such menu.
    """
    from workbench.card.menu import read_menus
    from workbench.errors import UsageError
    from workbench.shown import shown

    menus = read_menus(opened.tree, opened.profile, args.menu, labels=False)
    if len(menus) == 1:
        return menus[0], name
    named = [menu for menu in menus if menu.id == args.menu] or [
        menu for menu in menus if name.startswith(f"{menu.id}:")
    ]
    if len(named) == 1:
        return named[0], name if args.menu else name[len(named[0].id) + 1 :]
    ids = ", ".join(shown(menu.id) for menu in menus)
    raise UsageError(f"say in which menu, with --menu ID; the card has: {ids}")

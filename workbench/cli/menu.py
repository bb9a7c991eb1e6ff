"""`cardwright menu CARD`: entries as the device lists them, with their references."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments
from workbench.cli.opened import open_for_reading
from workbench.cli.output import say, say_json, warn

if TYPE_CHECKING:
    from workbench.card.disk_tree import DiskTree
    from workbench.card.menu import Menu


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("--menu", metavar="ID", help="only this menu")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(args: argparse.Namespace) -> int:
    from workbench.card.menu import read_menus
    from workbench.card.references import find_all_references

    opened = open_for_reading(args)
    menus = read_menus(opened.tree, opened.profile, args.menu)
    references = find_all_references(opened.tree, opened.profile)
    if args.json:
        say_json({"menus": [_menu_shape(menu, references) for menu in menus]})
        return 0
    for menu in menus:
        say(f"{menu.id}  ({menu.root}, order: {menu.order})")
        _warn_of(opened.tree, menu)
        for entry in menu.entries:
            label = f"  shown as {entry.label}" if entry.label != entry.name else ""
            named = len(references.get(entry.at, ()))
            say(
                f"{entry.position:>5}  {entry.name}{label}  named in {named} place{'' if named == 1 else 's'}"
            )
    return 0


def _warn_of(tree: DiskTree, menu: Menu) -> None:
    """Why a menu shows nothing, or names in place of what the device shows."""
    if menu.is_missing:
        warn(_say_missing(tree, menu))
    if menu.label_error is not None:
        warn(f"No shown names: {menu.label_error.message}")


def _say_missing(tree: DiskTree, menu: Menu) -> str:
    from workbench.errors import CardError

    try:
        if tree.stat(menu.root) is not None:
            tree.resolve(menu.root)
    except CardError as error:
        return error.message
    return f"There is no folder {menu.root} on this card."


def _menu_shape(menu: Any, references: Any) -> dict[str, Any]:
    return {
        "name": menu.id,
        "order": menu.order,
        "entries": [
            {
                "position": entry.position,
                "name": entry.name,
                "prefix": entry.prefix,
                "label": entry.label,
                "references": [_reference_shape(found) for found in references.get(entry.at, ())],
            }
            for entry in menu.entries
        ],
    }


def _reference_shape(reference: Any) -> dict[str, Any]:
    return {
        "volume": reference.at.volume,
        "path": reference.at.path,
        "line": reference.line,
        "kind": reference.kind,
    }

"""`cardwright arrange CARD --first E | --last E | --before E OTHER | --after E OTHER | --strip E`."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from workbench.cli.carrying import add_writing_arguments, carry_out, check_consent
from workbench.cli.opened import add_card_arguments, open_for_writing
from workbench.errors import UsageError

if TYPE_CHECKING:
    from workbench.jobs.arrange import Kind


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    wish = parser.add_mutually_exclusive_group(required=True)
    wish.add_argument("--first", metavar="ENTRY", help="send it to the top")
    wish.add_argument("--last", metavar="ENTRY", help="send it to the end")
    wish.add_argument("--before", nargs=2, metavar=("ENTRY", "OTHER"), help="place it before the other")
    wish.add_argument("--after", nargs=2, metavar=("ENTRY", "OTHER"), help="place it after the other")
    wish.add_argument("--strip", metavar="ENTRY", help="take its prefix off")
    parser.add_argument("--style", choices=("shortest", "numbers", "letters"), help="the prefix's style")
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from workbench.card.menu import find_entry, read_menus
    from workbench.jobs.arrange import Place, plan_place

    check_consent(args)
    opened = open_for_writing(args)
    menus = read_menus(opened.tree, opened.profile)
    kind, names = _wish(args)
    menu, entry = find_entry(menus, names[0])
    other = find_entry(menus, names[1]) if len(names) > 1 else None
    if other is not None and other[0].id != menu.id:
        raise UsageError(f"{names[0]} and {names[1]} are not in one menu")
    place = Place(kind, other[1] if other else None)
    plan = plan_place(opened.tree, opened.profile, menu, entry, place, style=args.style)
    return carry_out(args, opened.card, plan)


def _wish(args: argparse.Namespace) -> tuple[Kind, list[str]]:
    kinds: tuple[Kind, ...] = ("first", "last", "before", "after", "strip")
    for kind in kinds:
        found = getattr(args, kind)
        if found is not None:
            return kind, found if isinstance(found, list) else [found]
    raise UsageError("say where the entry should go")

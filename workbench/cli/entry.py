"""`cardwright entry CARD add NAME | copy ENTRY NEW | hide ENTRY | show [NAME] | remove ENTRY`."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.chosen import add_menu_argument, choose_entry, choose_menu
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.errors import UsageError

if TYPE_CHECKING:
    from workbench.changes.plan import Plan


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("act", choices=("add", "copy", "hide", "show", "remove"))
    parser.add_argument(
        "name", nargs="?", help="the entry (or MENU:NAME); add: its new name; show: without, what is hidden"
    )
    parser.add_argument("new", nargs="?", help="copy: the name of the copy")
    parser.add_argument("--label", metavar="TEXT", help="add, copy: what the device shall show for it")
    parser.add_argument("--like", metavar="ENTRY", help="add: the neighbour to follow")
    parser.add_argument(
        "--with-companions", action="store_true", help="copy: also saved games, settings and manuals"
    )
    add_menu_argument(parser)
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.act == "show" and args.name is None:
        return _list_hidden(args)
    _check_words(args)
    check_consent(args)
    opened = open_for_writing(args)
    plan = {"add": _add, "copy": _copy, "hide": _hide, "show": _show, "remove": _remove}[args.act](
        args, opened
    )
    try:
        return carry_out(args, opened.card, plan)
    finally:
        from workbench.jobs.renders import drop_renders

        drop_renders(plan)


def _check_words(args: argparse.Namespace) -> None:
    """Refuse words that the act has no use for, rather than pass over them."""
    usage = {
        "add": "entry CARD add NAME",
        "copy": "entry CARD copy ENTRY NEW",
        "hide": "entry CARD hide ENTRY",
        "show": "entry CARD show [NAME]",
        "remove": "entry CARD remove ENTRY",
    }[args.act]
    is_short = args.name is None or (args.act == "copy" and args.new is None)
    if is_short or (args.act != "copy" and args.new is not None):
        raise UsageError(f"it goes: cardwright {usage}")
    if args.label is not None and not args.label.strip():
        raise UsageError("--label takes a text that can be seen; leave it out to show the name")
    wishes = {"--label": args.label, "--like": args.like, "--with-companions": args.with_companions}
    allowed = {"add": ("--label", "--like"), "copy": ("--label", "--with-companions")}.get(args.act, ())
    for option, value in wishes.items():
        if value and option not in allowed:
            raise UsageError(f"{option} says nothing to entry {args.act}; it goes: cardwright {usage}")


def _add(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.card.menu import find_entry
    from workbench.jobs.entry import plan_add

    menu, name = choose_menu(args, opened, args.name)
    like = find_entry((menu,), args.like)[1] if args.like else None
    return plan_add(opened.tree, opened.profile, menu, name, like=like, label=args.label)


def _copy(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.entry import plan_copy

    menu, entry = choose_entry(args, opened, args.name)
    return plan_copy(
        opened.tree,
        opened.profile,
        menu,
        entry,
        args.new,
        label=args.label,
        with_companions=args.with_companions,
    )


def _hide(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.entry import plan_hide

    return plan_hide(opened.tree, opened.profile, *choose_entry(args, opened, args.name))


def _show(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.entry import find_hidden, pick_hidden, plan_show

    hidden = pick_hidden(find_hidden(opened.tree, opened.profile, args.menu), args.name)
    return plan_show(opened.tree, opened.profile, hidden)


def _remove(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.entry import plan_remove

    return plan_remove(opened.tree, opened.profile, *choose_entry(args, opened, args.name))


def _list_hidden(args: argparse.Namespace) -> int:
    from workbench.jobs.entry import find_hidden

    opened = open_for_reading(args)
    found = find_hidden(opened.tree, opened.profile, args.menu)
    if args.json:
        say_json(
            {
                "hidden": [
                    {"menu": one.menu.id, "name": one.name, "shown_name": one.shown_name} for one in found
                ]
            }
        )
        return 0
    for one in found:
        say(f"{one.menu.id}  {one.name}  would be shown as {one.shown_name}")
    if not found:
        say("Nothing is hidden.")
    return 0

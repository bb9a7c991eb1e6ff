"""`cardwright label CARD ENTRY TEXT`."""

from __future__ import annotations

import argparse

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.chosen import add_menu_argument, choose_labelled
from workbench.cli.opened import open_for_reading, open_for_writing
from workbench.cli.output import say, say_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("entry", help="the entry's name (or MENU:NAME)")
    parser.add_argument(
        "text", nargs="?", help="what the device shall show for it; without: what it shows now, and why"
    )
    add_menu_argument(parser)
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.text is None:
        return _show(args)
    from workbench.jobs.label import plan_label

    check_consent(args)
    opened = open_for_writing(args)
    menu, entry = choose_labelled(args, opened, args.entry)
    return carry_out(args, opened.card, plan_label(opened.tree, opened.profile, menu, entry, args.text))


def _show(args: argparse.Namespace) -> int:
    from workbench.jobs.label import describe_label

    opened = open_for_reading(args)
    menu, entry = choose_labelled(args, opened, args.entry)
    facts = describe_label(menu, entry)
    if args.json:
        shape = {
            "menu": menu.id,
            "name": entry.name,
            "label": facts.shown,
            "apart": facts.is_apart,
            "set": facts.is_set,
            "sentence": facts.sentence,
        }
        say_json(shape)
    else:
        say(facts.sentence)
    return 0

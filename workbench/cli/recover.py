"""`cardwright recover CARD --forward|--back`: finish or take back a change that was interrupted."""

from __future__ import annotations

import argparse

from workbench.cli.arguments import add_card_arguments, add_keep_argument, add_opening_argument
from workbench.cli.carrying import keep_folder, unhurried
from workbench.cli.opened import open_for_reading
from workbench.cli.opening_up import agree_to_open, opened_up
from workbench.cli.output import say, say_json, warn
from workbench.errors import PreflightError, UnfinishedChangeError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    way = parser.add_mutually_exclusive_group(required=True)
    way.add_argument("--forward", action="store_true", help="carry it out to the end")
    way.add_argument("--back", action="store_true", help="back to how the card was before")
    parser.add_argument(
        "--without", metavar="ROLE", action="append", default=[], help="go on though this volume is absent"
    )
    add_keep_argument(parser, "where this computer's kept copies are, if they were moved")
    add_opening_argument(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--yes", action="store_true", help=argparse.SUPPRESS)


def run(args: argparse.Namespace) -> int:
    from workbench.changes.quiet_device import menu_stopped
    from workbench.changes.recover import find_unfinished, recover

    card = open_for_reading(args).card
    unfinished = find_unfinished(card)
    try:
        locked = agree_to_open(args, card, unfinished.volumes if unfinished is not None else ())
    except PreflightError as error:  # it stays unfinished, which has an exit code of its own
        raise UnfinishedChangeError(error.message, path=error.path) from error
    with unhurried(), opened_up(card, locked) as writable, menu_stopped(writable) as said:
        recovered = recover(
            writable,
            "forward" if args.forward else "back",
            without=frozenset(args.without),
            keep_on=keep_folder(args),
        )
    for note in said:
        warn(note)
    if args.json:
        say_json(
            {
                "recovered": recovered.number if recovered else None,
                "notes": list(recovered.notes) if recovered else [],
            }
        )
        return 0
    if recovered is None or unfinished is None:
        say("No change on this card is unfinished.")
        return 0
    for note in recovered.notes:
        say(note)
    say(f"Change {recovered.number} ({recovered.title}): {recovered.sentence}")
    return 0

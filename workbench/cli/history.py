"""`cardwright history CARD`: the changes made to a card, by number (clocks on devices lie)."""

from __future__ import annotations

import argparse

from workbench.cli.opened import add_card_arguments, open_for_reading
from workbench.cli.output import say, say_json


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(args: argparse.Namespace) -> int:
    from workbench.changes.ledger import read_history

    changes = read_history(open_for_reading(args).card)
    if args.json:
        shapes = [
            {
                "number": change.number,
                "id": change.id,
                "title": change.title,
                "time": change.time,
                "state": change.state,
                "bytes_kept": change.bytes_kept,
            }
            for change in changes
        ]
        say_json({"changes": shapes})
        return 0
    if not changes:
        say("No change has been made to this card.")
    for change in changes:
        kept = f"{change.bytes_kept:,} bytes kept"
        say(f"{change.number:>4}  {change.time}  {change.state:<10} {change.title}  ({kept})")
    return 0

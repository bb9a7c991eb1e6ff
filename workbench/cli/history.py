"""`cardwright history CARD`: the changes made to a card, by number, and letting go of what they keep.

Clocks on devices lie, so nothing goes by time.
"""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments
from workbench.cli.opened import open_for_reading
from workbench.cli.output import say, say_json

if TYPE_CHECKING:
    from workbench.changes.ledger import Change


def add_arguments(parser: argparse.ArgumentParser) -> None:
    from workbench.cli.letting_go import add_letting_go_arguments

    add_card_arguments(parser)
    add_letting_go_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from workbench.cli.letting_go import is_asked_to_let_go, run_letting_go

    if is_asked_to_let_go(args):
        return run_letting_go(args)
    from workbench.changes.ledger import read_history

    changes = read_history(open_for_reading(args).card)
    if args.json:
        say_json({"changes": [_shape(change) for change in changes]})
        return 0
    if not changes:
        say("No change has been made to this card.")
    for change in changes:
        say(
            f"{change.number:>4}  {change.time}  {change.state:<10} {change.title}  ({describe_kept(change)})"
        )
    return 0


def describe_kept(change: Change) -> str:
    """What is kept of what it replaced, and where."""
    if change.let_go:
        return "its kept copies were let go"
    if change.kept_on:
        away = "" if change.is_keep_here else ", which is not here"
        return f"kept on the computer in {change.kept_on}{away}; {change.bytes_kept:,} bytes kept on the card"
    return f"{change.bytes_kept:,} bytes kept"


def _shape(change: Change) -> dict[str, Any]:
    return {
        "number": change.number,
        "id": change.id,
        "title": change.title,
        "time": change.time,
        "state": change.state,
        "bytes_kept": change.bytes_kept,
        "let_go": change.let_go,
        "kept_on": change.kept_on or None,
    }

"""`cardwright history CARD`: the changes made to a card, by number, and letting go of what they keep.

Clocks on devices lie, so nothing goes by time.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments
from workbench.cli.opened import open_for_reading
from workbench.cli.output import say, say_json
from workbench.errors import UsageError

if TYPE_CHECKING:
    from workbench.changes.ledger import Change
    from workbench.cli.opened import Opened


def add_arguments(parser: argparse.ArgumentParser) -> None:
    from workbench.cli.letting_go import add_letting_go_arguments

    add_card_arguments(parser)
    add_letting_go_arguments(parser)
    parser.add_argument(
        "--note",
        action="store_true",
        help="a plain page for the card's owner: what was changed, how to take it back",
    )
    parser.add_argument("-o", "--output", metavar="FILE", help="write that page to a new file")


def run(args: argparse.Namespace) -> int:
    from workbench.cli.letting_go import is_asked_to_let_go, run_letting_go

    if is_asked_to_let_go(args):
        return run_letting_go(args)
    from workbench.changes.ledger import read_history

    opened = open_for_reading(args)
    changes = read_history(opened.card)
    if args.note:
        return _write_note(args, opened, changes)
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


def _write_note(args: argparse.Namespace, opened: Opened, changes: Sequence[Change]) -> int:
    """To a file that is not there yet, or to standard output."""
    from workbench.jobs.handover import Told, write_note

    told = [
        Told(
            one.number,
            one.title,
            one.time,
            one.undone_by,
            bool(one.undoes),
            not one.let_go,
            one.kept_on,
        )
        for one in changes
        if one.state == "done"
    ]
    text = write_note(opened.card.name, opened.profile.name, told)
    if args.output is None:
        say(text.rstrip("\n"))
        return 0
    from workbench.host.safe_write import write_safely

    target = Path(args.output).absolute()
    if target.exists():
        raise UsageError(f"{args.output} is there already; nothing was written", path=args.output)
    write_safely(target, text.encode("utf-8", "replace"), 0o644)
    say(f"Written to {args.output}.")
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

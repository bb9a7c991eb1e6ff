"""`cardwright undo CARD [N]`: take a change back; an undo is itself a change."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING

from workbench.cli.arguments import add_card_arguments, add_consent_arguments, add_keep_argument
from workbench.cli.carrying import carry_out, check_consent, keep_folder
from workbench.cli.opened import open_for_writing
from workbench.errors import CardwrightError

if TYPE_CHECKING:
    from workbench.card.volumes import Card


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument(
        "number", nargs="?", type=_name, help="the change; without it, the last one still in force"
    )
    parser.add_argument("--after", action="store_true", help="take back that change and all after it")
    parser.add_argument("--partial", action="store_true", help="take back only the parts without conflict")
    add_keep_argument(
        parser, "where this computer's kept copies are by now; and where a card too full for more keeps them"
    )
    add_consent_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from workbench.changes.undo import plan_undo

    check_consent(args)
    card = open_for_writing(args).card
    number = args.number if args.number is not None else _last_change(card)
    plan = plan_undo(card, number, after_too=args.after, partial=args.partial, keep_on=keep_folder(args))
    return carry_out(args, card, plan, in_part=args.partial)


def _name(text: str) -> int | str:
    """A change's number, or its id (`0007-3f2ac1`), which tells two of one number apart."""
    if text.isascii() and text.isdigit():
        return int(text)
    if re.fullmatch(r"[0-9]{4,}-[0-9a-f]+", text):
        return text
    raise argparse.ArgumentTypeError(f"{text!r} is neither a change's number nor its id")


def _last_change(card: Card) -> int:
    from workbench.changes.ledger import read_history

    standing = [one for one in read_history(card) if one.state == "done" and one.undone_by is None]
    done = [change.number for change in standing if not change.undoes]
    if not done:
        raise CardwrightError("there is no change on this card to take back; nothing was changed")
    return max(done)

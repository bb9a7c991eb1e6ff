"""`cardwright eject CARD`: flush, read back, unmount, and say when the card can be pulled."""

from __future__ import annotations

import argparse
import sys
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments
from workbench.cli.opened import open_card_named
from workbench.cli.output import is_agreed, say, say_json, warn
from workbench.errors import CardwrightError, UsageError

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.leaving import Leaving
    from workbench.changes.read_back import Strayed


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("--json", action="store_true", help="print JSON")
    parser.add_argument("--yes", action="store_true", help="leave a plan that waits for the next time")
    parser.add_argument("--stay-on", action="store_true", help="unmount only; do not switch the drive off")


def run(args: argparse.Namespace) -> int:
    from workbench.changes.leaving import leave

    card = open_card_named(args)
    _ask_of_waiting(args, card)
    found = leave(card, power_off=not args.stay_on)
    if args.json:
        say_json(_shape(found))
    else:
        _say(found)
    return 1 if found.refused else 0


def _ask_of_waiting(args: argparse.Namespace, card: Card) -> None:
    """A plan not yet written asks first.

    Raises:
        UsageError: nobody can be asked.
        CardwrightError: the person wants to stay.
    """
    from workbench.changes.waiting_plans import load_waiting

    wishes = load_waiting(card)
    if not wishes or args.yes:
        return
    titles = "; ".join(wish.title for wish in wishes)
    if not sys.stdin.isatty() or args.json:
        raise UsageError(
            f"a plan waits for this card and is not written yet ({titles}); the card was left mounted. Write "
            "or drop it in the workbench, or give --yes to leave it for the next time."
        )
    warn(f"A plan waits for this card and is not written yet: {titles}")
    if not is_agreed("Eject the card all the same? The plan is kept for the next time."):
        raise CardwrightError("the card was left mounted; nothing was changed")


def _say(found: Leaving) -> None:
    read = found.read
    say(f"Flushed: {', '.join(found.flushed) or 'nothing'}.")
    if read.changes:
        how = "past the system's memory" if read.from_medium else "the system was asked to forget it first"
        count = f"{read.files} file{'' if read.files == 1 else 's'}"
        say(f"Read back: {count}, {read.bytes:,} bytes of what was changed ({how}).")
    else:
        say("Read back: nothing was changed since the last time.")
    for one in read.edited:
        warn(f"{_place(one)} (not as change {one.change} left it)")
    for one in read.damaged:
        warn(f"{_place(one)}: this is damage (written by change {one.change})")
    for note in found.notes:
        warn(note)
    (warn if found.refused else say)(found.verdict)


def _place(one: Strayed) -> str:
    return f"{one.at} {one.because}"


def _shape(found: Leaving) -> dict[str, Any]:
    return {
        "safe": found.safe,
        "verdict": found.verdict,
        "flushed": list(found.flushed),
        "read_back": {
            "files": found.read.files,
            "bytes": found.read.bytes,
            "changes": list(found.read.changes),
            "from_medium": found.read.from_medium,
            "edited": list(map(_strayed_shape, found.read.edited)),
            "damaged": list(map(_strayed_shape, found.read.damaged)),
        },
        "unmounted": found.unmounted,
        "means": found.means or None,
        "holders": [{"pid": one.pid, "name": one.name, "path": one.path} for one in found.holders],
        "notes": found.notes,
    }


def _strayed_shape(one: Strayed) -> dict[str, Any]:
    return {"volume": one.at.volume, "path": one.at.path, "change": one.change, "because": one.because}

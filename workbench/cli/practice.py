"""`cardwright practice [DIR] [--device NAME]`: a practice card to try everything on.

With a terminal the workbench opens on it. Without one the whole main job is done through the command line's
own road and printed, from the list of entries to the proof that undo brought every byte back.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from workbench.cli.output import say
from workbench.jobs.practice import DEVICES, lay_out


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "folder", metavar="DIR", nargs="?", default="practice-card", help="default: practice-card"
    )
    parser.add_argument("--device", choices=DEVICES, default=DEVICES[0], help="which invented device")


def run(args: argparse.Namespace) -> int:
    folder = Path(args.folder)
    card_folder = folder / args.device
    if card_folder.exists():
        say(f"The practice card {card_folder} is there already; it is opened as it is.")
    else:
        card_folder = lay_out(args.device, folder)
        say(f"A practice card of the invented device {args.device.title()} lies in {card_folder}.")
    if sys.stdin.isatty() and sys.stdout.isatty():
        from workbench.cli.main import main

        return main([str(card_folder)])
    from workbench.cli.walk import walk_through

    return walk_through(args.device, card_folder)

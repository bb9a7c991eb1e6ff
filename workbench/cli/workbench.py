"""`cardwright [CARD]`: the workbench on the screen."""

from __future__ import annotations

import argparse
import gc
import sys

from workbench.cli.arguments import add_profile_arguments
from workbench.cli.opened import known_profiles, open_card_named
from workbench.errors import UsageError


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "card", metavar="CARD", nargs="?", help="label, mount point or folder; without it: choose"
    )
    add_profile_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise UsageError("the workbench needs a terminal; for scripts there are commands: cardwright --help")
    # Next to nothing that the start makes is garbage, and looking for it would take a third of the start.
    # The workbench turns the collector on again when its first frame stands.
    gc.disable()
    from workbench.tui.app import run_workbench

    card = open_card_named(args) if args.card else None
    return run_workbench(card, known_profiles(args.profile))

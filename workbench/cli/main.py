"""The command `cardwright`: finds the subcommand, imports only what it needs, makes exit codes of errors.

Exit: 0 done, 1 refused or failed with nothing changed, 2 usage, 3 an unfinished change, 4 a finding.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Callable, Sequence
from importlib import import_module
from typing import NoReturn, Protocol, cast

from workbench.errors import CardwrightError, UsageError


class Command(Protocol):
    """What each module of a subcommand offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None: ...
    def run(self, args: argparse.Namespace) -> int: ...


COMMANDS = {
    "cards": "removable cards and the profile each matches",
    "menu": "entries as the device lists them, with their references",
    "rename": "rename an entry with every reference",
    "arrange": "send one entry first or last, beside another, or strip its prefix",
    "splash": "show, put, blank and restore the splash",
    "manifest": "read and edit a manifest in place",
    "history": "the changes made to a card",
    "undo": "take a change back",
    "recover": "finish or take back a change that was interrupted",
    "practice": "lay out a practice card and try everything on it",
}


class _Parser(argparse.ArgumentParser):
    """Raises instead of leaving, so that `--json` gets its error shape too."""

    def error(self, message: str) -> NoReturn:
        raise UsageError(f"{message}. See: {self.prog} --help")


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    as_json = "--json" in words
    try:
        return _dispatch(words)
    except CardwrightError as error:
        from workbench.cli.output import say_error

        say_error(error, as_json)
        return error.exit_code
    except BrokenPipeError:
        # The reader has gone; Python would complain once more when it flushes at exit.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 1
    except KeyboardInterrupt:
        print("cardwright: stopped; nothing was changed", file=sys.stderr)
        return 1


def _dispatch(words: list[str]) -> int:
    if words[:1] in (["-h"], ["--help"], ["help"]):
        print(_overview())
        return 0
    if words[:1] == ["--version"]:
        from workbench import __version__

        print(f"cardwright {__version__}")
        return 0
    if not words or words[0] not in COMMANDS:
        return _run("workbench", "cardwright", words)
    return _run(words[0], f"cardwright {words[0]}", words[1:])


def _run(name: str, prog: str, words: list[str]) -> int:
    command = cast(Command, import_module(f"workbench.cli.{name}"))
    parser = _Parser(prog=prog, description=COMMANDS.get(name, "the workbench"))
    command.add_arguments(parser)
    run: Callable[[argparse.Namespace], int] = command.run
    return run(parser.parse_args(words))


def _overview() -> str:
    lines = [
        "cardwright [CARD]        the workbench",
        *(f"cardwright {name:<14}{what}" for name, what in COMMANDS.items()),
        "",
        "CARD is a volume label, a mount point, or a folder that is a volume or holds the volumes.",
        "Each command explains itself: cardwright COMMAND --help",
    ]
    return "\n".join(lines)

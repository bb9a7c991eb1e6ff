"""The command `cardwright`: finds the subcommand, imports only what it needs, makes exit codes of errors.

Exit: 0 done, 1 refused or failed with nothing changed, 2 usage, 3 an unfinished change, 4 a finding.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from workbench.cli.plain_words import read_plain
from workbench.errors import CardError, CardwrightError, UsageError
from workbench.late_urls import load_pathlib
from workbench.typed import TYPE_CHECKING, Any, NoReturn, Protocol, cast

if TYPE_CHECKING:
    import argparse


class Command(Protocol):
    """What each module of a subcommand offers."""

    def add_arguments(self, parser: argparse.ArgumentParser) -> None: ...
    def run(self, args: argparse.Namespace) -> int: ...


COMMANDS = {
    "cards": "removable cards and the profile each matches",
    "menu": "entries as the device lists them, with their references",
    "rename": "rename an entry with every reference",
    "arrange": "put a menu in order: some entries first or last, or all of them",
    "label": "set the text that the device shows for an entry",
    "icon": "show an entry's icon or art, or put another picture in",
    "entry": "add, copy, hide, show and remove entries with all that names them",
    "splash": "show, put, blank and restore the splash",
    "animate": "make a boot animation of a clip",
    "animation": "show, retime, resize, mend, export and choose the boot animations on a card",
    "rehearse": "the whole start as the device would show it",
    "manifest": "read and edit a manifest in place",
    "check": "what is wrong with a card, or will be, and mend it",
    "pack": "look into packs, add and remove them, make one",
    "backup": "take, verify, compare and restore backups; say what another card would cost",
    "history": "the changes made to a card",
    "undo": "take a change back",
    "recover": "finish or take back a change that was interrupted",
    "routine": "carry the same wishes out on many cards, or record them from one",
    "eject": "flush, read back and unmount a card, and say when it can be pulled",
    "survey": "propose a profile for a card that nobody described",
    "practice": "lay out a practice card and try everything on it",
}


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    words = list(sys.argv[1:] if argv is None else argv)
    is_short = argv is None and words[:1] != ["practice"] and words[:1] and words[0] in COMMANDS
    if is_short:
        gc.disable()  # the process is ours and ends before a collection pays
    as_json = "--json" in words[: words.index("--") if "--" in words else None]
    try:
        code = _say_errors(words, as_json)
        sys.stdout.flush()
        if is_short:
            _end_at_once(code)
        return code
    except BrokenPipeError:
        return _end_without_output()
    except OSError as error:
        from workbench.cli.output import say_error

        say_error(_as_refusal(error), as_json=False)
        return _end_without_output()
    except KeyboardInterrupt:
        print("cardwright: stopped; nothing was changed", file=sys.stderr)
        return 1


def _end_without_output() -> int:
    from workbench.cli.output import drop_output

    drop_output()
    return 1


def _end_at_once(code: int) -> NoReturn:
    """End without taking apart what was built: on a large card that is a tenth of a short command's time.

    Nothing waits for it: no command starts a thread, leaves a file open or asks to be called at the end.
    """
    sys.stderr.flush()
    os._exit(code)


def _say_errors(words: list[str], as_json: bool) -> int:
    try:
        return _dispatch(words)
    except CardwrightError as error:
        from workbench.cli.output import say_error

        say_error(error, as_json)
        return error.exit_code
    except BrokenPipeError:
        raise
    except OSError as error:
        from workbench.cli.output import say_error

        say_error(_as_refusal(error), as_json)
        return 1


def _as_refusal(error: OSError) -> CardwrightError:
    """What the system refused, in a sentence: the card pulled out in the middle, a folder without rights."""
    place = os.fsdecode(error.filename) if isinstance(error.filename, (str, bytes)) else None
    reason = error.strerror or str(error)
    return CardError(f"{place + ': ' if place else ''}{reason}; nothing was changed", path=place)


def _dispatch(words: list[str]) -> int:
    if words[:1] in (["-h"], ["--help"], ["help"]):
        print(_overview())
        return 0
    if words[:1] == ["--version"]:
        from workbench import __version__

        print(f"cardwright {__version__}")
        return 0
    if not words or words[0] not in COMMANDS:
        if len(words) > 1 and not any(word.startswith("-") for word in words[:2]):
            raise _no_command(words[0])
        return _run("workbench", "cardwright", words)
    return _run(words[0], f"cardwright {words[0]}", words[1:])


def _run(name: str, prog: str, words: list[str]) -> int:
    load_pathlib()
    command = cast(Command, import_module(f"workbench.cli.{name}"))
    what = COMMANDS.get(name, "the workbench")
    args: Any = read_plain(command.add_arguments, words)
    if args is None:
        from workbench.cli.parser import HelpFormatter, Parser

        parser = Parser(prog=prog, description=what, formatter_class=HelpFormatter)
        command.add_arguments(parser)
        args = parser.parse_words(words)
    return command.run(args)


def _no_command(word: str) -> UsageError:
    from difflib import get_close_matches

    close = get_close_matches(word, COMMANDS, 1)
    hint = f" Did you mean {close[0]}?" if close else ""
    return UsageError(f"there is no command {word!r}.{hint} See: cardwright --help")


def _overview() -> str:
    lines = [
        "cardwright [CARD]        the workbench",
        *(f"cardwright {name:<14}{what}" for name, what in COMMANDS.items()),
        "",
        "CARD is a volume label, a mount point, or a folder that is a volume or holds the volumes.",
        "Each command explains itself: cardwright COMMAND --help",
    ]
    return "\n".join(lines)

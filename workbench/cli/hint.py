"""The exact command that a message tells a person to type next, for the card as it was named here."""

from __future__ import annotations

from collections.abc import Iterable

from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def command_line(args: argparse.Namespace, name: str, *words: object) -> str:
    """`cardwright NAME CARD WORDS…` with the same `--profile` and `--volume`, quoted for a POSIX shell."""
    import shlex

    line = ["cardwright", name, str(args.card), *map(str, words), *_options(args)]
    return " ".join(map(shlex.quote, line))


def _options(args: argparse.Namespace) -> Iterable[str]:
    if getattr(args, "profile", None):
        yield from ("--profile", args.profile)
    for volume in getattr(args, "volume", None) or ():
        yield from ("--volume", volume)

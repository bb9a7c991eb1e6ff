"""The parser of one subcommand: options anywhere among the words, and errors that are raised, not printed.

Words are put in the order options, `--`, the rest before argparse sees them (as getopt_long permutes;
argparse's own intermixed mode loses a `--` in some versions of Python).
"""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from typing import Any, NoReturn

from workbench.cli.plain_words import YES_OR_NO
from workbench.errors import UsageError
from workbench.late_pattern import late_pattern

_NUMBER = late_pattern(r"-\d+(\.\d+)?")


class HelpFormatter(argparse.HelpFormatter):
    """As wide as the terminal; the standard one imports a lot to find that out, option by option."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_columns() - 2)


def _columns() -> int:
    """The terminal's width as `shutil.get_terminal_size` has it: COLUMNS, the terminal, else 80."""
    asked = os.environ.get("COLUMNS", "")
    if asked.isdecimal() and int(asked) > 0:
        return int(asked)
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or 80  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):
        return 80


class Parser(argparse.ArgumentParser):
    """Raises instead of leaving, so that `--json` gets its error shape too."""

    def __init__(self, **settings: Any) -> None:
        super().__init__(**settings)
        self.register("action", YES_OR_NO, argparse.BooleanOptionalAction)

    _has_odd_word = False
    """Whether a word looks like an option and is none."""

    def parse_words(self, words: Sequence[str]) -> argparse.Namespace:
        """Parse a command line in which options and words may stand in any order.

        Raises:
            UsageError: the words are off.
        """
        cut = words.index("--") if "--" in words else len(words)
        head, rest = list(words[:cut]), list(words[cut + 1 :])
        groups: list[list[str]] = []
        plain: list[str] = []
        many: list[str] = []
        while head:
            if self._takes_many(head[0]):
                many = self._cut_many(head)
                groups.append(many)
                continue
            count = self._count_values(head[0])
            taken = 1 + (count or 0)
            if count is None:
                plain += head[:taken]
            else:
                groups.append(head[:taken])
            del head[:taken]
        if many and plain:  # `CARD --first -- -odd`: what follows is meant for the option
            many += rest
            rest = []
        elif many[1:] and not rest and self._wants_word:  # `--first E CARD`
            plain.append(many.pop())
        plain += rest
        options = [word for group in groups for word in self._spell_out(group)]
        return self.parse_args([*options, "--", *plain] if plain else options)

    def _takes_many(self, word: str) -> bool:
        """Whether the word is an option that takes any number of the words behind it."""
        found = self._option_string_actions.get(word)
        return found is not None and found.nargs in ("+", "*")

    @property
    def _wants_word(self) -> bool:
        return any(not action.option_strings and action.required for action in self._actions)

    def _cut_many(self, head: list[str]) -> list[str]:
        """The option at the front with all words up to the next option, taken out of the list."""
        words = enumerate(head[1:], 1)
        end = next((at for at, word in words if self._count_values(word) is not None), len(head))
        many = head[:end]
        del head[:end]
        return many

    def _spell_out(self, group: list[str]) -> list[str]:
        """`--first=A --first=B` for `--first A B`: so a value may start with `-`."""
        if not self._takes_many(group[0]):
            return group
        return [f"{group[0]}={value}" for value in group[1:]] or group

    def _count_values(self, word: str) -> int | None:
        """How many of the words after an option are its own; None where the word is no option."""
        if not word.startswith("-") or word == "-" or _NUMBER.fullmatch(word):
            return None
        name, equals, _ = word.partition("=")
        known = self._option_string_actions
        fitting = [name] if name in known else [one for one in known if one.startswith(name)]
        if not fitting:
            self._has_odd_word = True
        if equals or len(fitting) != 1:
            return 0
        nargs = known[fitting[0]].nargs
        return 1 if nargs is None else nargs if isinstance(nargs, int) else 0

    def error(self, message: str) -> NoReturn:
        hint = " A name that starts with '-' goes after '--'." if self._has_odd_word else ""
        raise UsageError(f"{message}.{hint} See: {self.prog} --help")

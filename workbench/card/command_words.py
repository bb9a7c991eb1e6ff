"""Words of a command line that stands inside a text (a JSON string `sh /mnt/a/b --loud`), with their places.

Quoting is that of a POSIX shell (XCU 2.2) as far as words go; whoever runs the command splits it at the same
places. Nothing is expanded.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache

from workbench.values import dataclass

_SHORT = 256
"""Characters of a command whose words are remembered."""
_BLANK = " \t\n\r"
_BARE_SPECIAL = frozenset(" \t\n\"'\\$`&;|<>()*?[]#~!{}")
_IN_DOUBLE = frozenset('"\\$`')


@dataclass(frozen=True, slots=True)
class CommandWord:
    """One word, unquoted."""

    text: str
    starts: tuple[int, ...]
    ends: tuple[int, ...]
    """Where each of its characters starts and ends in the command, its backslash included."""
    quotes: str
    """For each character the quote that it stands in: `'`, `"` or a space for none."""

    end: int
    """Where the word ends, its quotes included."""


def split_command(command: str) -> Iterable[CommandWord]:
    """The words of a command; one that ends in an open quote ends them."""
    # Manifests say the same texts again and again; a long one is not worth its room.
    return _split_again(command) if len(command) < _SHORT else _split(command)


@lru_cache(maxsize=2048)
def _split_again(command: str) -> tuple[CommandWord, ...]:
    return tuple(_split(command))


def _split(command: str) -> Iterator[CommandWord]:
    at = 0
    while at < len(command):
        if command[at] in _BLANK:
            at += 1
            continue
        word = _read_word(command, at)
        if word is None:
            return
        yield word
        at = max(word.end, at + 1)


def _read_word(command: str, at: int) -> CommandWord | None:
    text: list[str] = []
    starts: list[int] = []
    ends: list[int] = []
    quotes: list[str] = []
    quote = " "
    while at < len(command):
        char = command[at]
        if quote == " " and char in _BLANK:
            break
        if char == quote or (quote == " " and char in "\"'"):
            quote = " " if char == quote else char
            at += 1
            continue
        taken = 1
        if char == "\\" and quote != "'" and at + 1 < len(command) and _is_escape(command[at + 1], quote):
            char, taken = command[at + 1], 2
        text.append(char)
        starts.append(at)
        quotes.append(quote)
        at += taken
        ends.append(at)
    if quote != " ":
        return None
    return CommandWord("".join(text), tuple(starts), tuple(ends), "".join(quotes), at)


def _is_escape(char: str, quote: str) -> bool:
    return quote == " " or char in _IN_DOUBLE


def quote_part(text: str, quote: str) -> str:
    """`text` as it has to be written inside that quote (`'`, `"`, or a space for none)."""
    if quote == "'":
        return text.replace("'", "'\\''")
    special = _IN_DOUBLE if quote == '"' else _BARE_SPECIAL
    return "".join(f"\\{char}" if char in special else char for char in text)

"""Prefixes: the part at the front of a name that only serves the order.

A prefix is a short token of a form that no word has (`05`, `aa`, `m3`, `!5`) and the user's separator.
It is replaced, never stacked. A bare number is taken for a prefix only where something says so: `7 Wonders`
keeps its seven.
"""

from __future__ import annotations

import re
import string
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any, Literal

from workbench.late_pattern import late_pattern

Style = Literal["shortest", "numbers", "letters"]

SEPARATORS = (" ", "-", "_", ".")

_TOKEN = late_pattern(r"(?:[0-9]{1,4}|([a-z])\1{1,2}|[a-z][0-9]{1,2}|[A-Z]0[0-9]|[!~][0-9]{0,2})")
_BARE_NUMBER = late_pattern(r"[1-9][0-9]{0,3}")


def split_prefix(
    name: str, separators: Iterable[str] = SEPARATORS, siblings: Sequence[str] = ()
) -> tuple[str, str]:
    """`("05 ", "Boats")` for `05 Boats`; `("", name)` where there is no prefix.

    Args:
        separators: what may stand between the token and the rest.
        siblings: the other names of the menu; a bare number is a prefix where at least two of them
            start with a number of the same width and the same separator.
    """
    found = _TOKEN.match(name)
    if found is None:
        return "", name
    token, rest = found[0], name[found.end() :]
    separator = next((sign for sign in separators if rest.startswith(sign)), None)
    if separator is None or not rest[len(separator) :].strip(" ."):
        return "", name
    if _BARE_NUMBER.fullmatch(token) and not _is_numbered(len(token), separator, siblings):
        return "", name
    return token + separator, rest[len(separator) :]


def _is_numbered(width: int, separator: str, siblings: Sequence[str]) -> bool:
    form = re.compile(f"[0-9]{{{width}}}{re.escape(separator)}.")
    return sum(1 for name in siblings if form.match(name)) >= 2


def choose_prefix(
    rest: str,
    after: str | None,
    before: str | None,
    key: Callable[[str], Any],
    style: Style = "shortest",
    separator: str = " ",
    is_taken: Callable[[str], bool] = lambda _: False,
    share: float = 0.5,
    *,
    may_be_bare: bool = True,
) -> str | None:
    """A prefix that makes `rest` sort strictly between two names, with room left on both sides.

    Args:
        after, before: the neighbours' whole names; None at the ends of the menu.
        key: the menu's collation.
        is_taken: whether a whole name cannot be had (it exists, or is illegal).
        may_be_bare: whether no prefix at all will do, where the rest sorts there by itself.
        share: how far from `after` towards `before` to choose: 0.5 leaves the same room on both sides.

    Returns:
        Token and separator; `""` where `rest` sorts there without any; None where no token of the style does.
    """

    def fits(prefix: str) -> bool:
        name = prefix + rest
        place = key(name)
        lies_after = after is None or key(after) < place
        return lies_after and (before is None or place < key(before)) and not is_taken(name)

    if may_be_bare and fits(""):
        return ""
    for pool in _pools(style):
        fitting = [prefix for prefix in (token + separator for token in pool) if fits(prefix)]
        if fitting:
            fitting.sort(key=lambda prefix: key(prefix + rest))
            return fitting[int(len(fitting) * share)]
    return None


def _pools(style: Style) -> Iterator[list[str]]:
    """Tokens to try, shortest and plainest pool first."""
    letters = string.ascii_lowercase
    if style == "numbers":
        yield [f"{n:03d}" for n in range(5, 1000, 5)]
        yield [f"{n:03d}" for n in range(1000)]
        yield [f"{n:04d}" for n in range(10000)]
        return
    if style == "letters":
        yield [letter * 2 for letter in letters]
        yield [letter * 3 for letter in letters]
        return
    yield [f"0{n}" for n in range(10)]
    yield [letter * 2 for letter in letters]
    yield [f"{letter}{n}" for letter in letters for n in range(10)]
    # Between capitals, for byte order; the nought tells it from a name such as F1 or T2.
    yield [f"{letter}0{n}" for letter in string.ascii_uppercase for n in range(10)]
    yield [f"{n:03d}" for n in range(100)]
    yield [letter * 3 for letter in letters]
    yield [f"{letter}{n:02d}" for letter in letters for n in range(100)]
    yield [f"{sign}{n}" for sign in "!~" for n in range(10)]
    yield [f"{sign}{n:02d}" for sign in "!~" for n in range(100)]


def number_names(rests: Sequence[str], separator: str = " ") -> list[str]:
    """Whole names numbered in this order: equal width, steps of ten (`010 Boats`, `020 Kites` …).

    Above 99 names the width grows with the count, so that byte order stays the order of the numbers.
    """
    width = max(3, len(str(len(rests) * 10)))
    return [f"{(n + 1) * 10:0{width}d}{separator}{rest}" for n, rest in enumerate(rests)]

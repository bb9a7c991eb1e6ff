"""Prefixes: the part at the front of a name that only serves the order.

A prefix is a short token of a form that no word has (`05`, `aa`, `m3`, `!5`) and the user's separator.
It is replaced, never stacked. A bare number is taken for a prefix only where something says so: `7 Wonders`
keeps its seven.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence

from workbench.late_pattern import late_pattern
from workbench.typed import Literal

Style = Literal["shortest", "numbers", "letters"]

SEPARATORS = (" ", "-", "_", ".")

_LETTERS = "abcdefghijklmnopqrstuvwxyz"

_TOKEN = late_pattern(r"(?:[0-9]{1,4}|([a-z])\1{1,2}|[a-z][0-9]{1,2}|[A-Z]0[0-9]|[!~][0-9]{0,2})")
_LARGEST = 9999
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


def list_pools(style: Style, width: int = 3, *, bare: bool = True) -> tuple[tuple[str, ...], ...]:
    """The tokens of a style, the shortest and plainest pool first.

    Args:
        width: of numbers; they all have the same, so that they sort as numbers under every order.
        bare: also numbers without a nought in front; they count as prefixes only among their like.
    """
    letters = _LETTERS
    if style == "numbers":
        pools = (range(step, 10**width, step) for step in (10, 5))
        numbers = [tuple(f"{n:0{width}d}" for n in pool) for pool in (*pools, range(10**width))]
        return tuple(tuple(one for one in pool if bare or one.startswith("0")) for pool in numbers)
    doubled, tripled = (tuple(letter * count for letter in letters) for count in (2, 3))
    if style == "letters":
        return doubled, tripled
    return (
        tuple(f"0{n}" for n in range(10)),
        doubled,
        tuple(f"{letter}{n}" for letter in letters for n in range(10)),
        # Between capitals, for byte order; the nought tells it from a name such as F1 or T2.
        tuple(f"{letter}0{n}" for letter in _LETTERS.upper() for n in range(10)),
        tuple(f"{n:03d}" for n in range(100)),
        tripled,
        tuple(f"{letter}{n:02d}" for letter in letters for n in range(100)),
        tuple(f"{n:04d}" for n in range(1000)),
        tuple(f"{sign}{n}" for sign in "!~" for n in range(10)),
        tuple(f"{sign}{n:02d}" for sign in "!~" for n in range(100)),
    )


def numbered_width(names: Iterable[str], separator: str) -> int | None:
    """The digits that most numbered names of a menu start with; None where fewer than three are numbered."""
    form = re.compile(f"([0-9]{{1,4}}){re.escape(separator)}.")
    widths = [len(found[1]) for name in names if (found := form.match(name))]
    most = max(set(widths), key=widths.count, default=0)
    return most if widths.count(most) >= 3 else None


def number_names(rests: Sequence[str], separator: str = " ") -> list[str]:
    """Whole names numbered in this order: equal width, steps of ten (`010 Boats`, `020 Kites` …).

    Above 99 names the width grows with the count, so that byte order stays the order of the numbers; above
    999 the steps shrink, because a number of five digits would not be known as a prefix again.
    """
    step = min(10, max(1, _LARGEST // max(1, len(rests))))
    width = max(3, len(str(len(rests) * step)))
    return [f"{(n + 1) * step:0{width}d}{separator}{rest}" for n, rest in enumerate(rests)]

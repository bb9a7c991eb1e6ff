"""How a device sorts a menu: one key function for each order. Names sort by these keys, stably.

`directory` has no key: the folder's own listing is the order, so its key leaves every name where it is.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable

from workbench.late_pattern import late_pattern
from workbench.typed import Any, Literal

Order = Literal["bytes", "letters", "letters-up", "natural", "directory"]

SortKey = Callable[[str], Any]

_DOWN = bytes(code + 32 if 0x41 <= code <= 0x5A else code for code in range(256))
_UP = bytes(code - 32 if 0x61 <= code <= 0x7A else code for code in range(256))
_RUNS = late_pattern(r"[0-9]+|[^0-9]+")


def sort_key(order: Order) -> SortKey:
    """The key that sorts names in this order."""
    return _KEYS[order]


def sort_names(names: Iterable[str], order: Order) -> list[str]:
    """The names as the device lists them; for `directory`, as they came."""
    return sorted(names, key=_KEYS[order])


def _encode(name: str) -> bytes:
    return name.encode("utf-8", "surrogateescape")


def _bytes_key(name: str) -> bytes:
    """strcmp on the bytes of the name: the C locale (strcoll(3))."""
    return _encode(name)


def _letters_key(name: str) -> bytes:
    """strcasecmp in the POSIX locale: as if converted to lower case, ASCII letters only, then by byte."""
    return _encode(name).translate(_DOWN)


def _letters_up_key(name: str) -> bytes:
    """As `letters` but converted to upper case, which puts `_` after the letters (as `sort -f` does)."""
    return _encode(name).translate(_UP)


def _natural_key(name: str) -> tuple[tuple[int, int, str, str], ...]:
    """Run by run: digit runs by value, other runs lower-cased, equal runs by their raw text (our rule)."""
    # Spelled out: a style has thousands of prefixes, and each is sorted by this.
    return tuple(
        [
            (0, int(run), "", run) if run[0] in "0123456789" else (1, 0, run.lower(), run)
            for run in _RUNS.findall(name)
        ]
    )


def _directory_key(_: str) -> int:
    return 0


_KEYS: dict[str, SortKey] = {
    "bytes": _bytes_key,
    "letters": _letters_key,
    "letters-up": _letters_up_key,
    "natural": _natural_key,
    "directory": _directory_key,
}

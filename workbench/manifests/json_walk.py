"""Finds its way in strict JSON text: keys, values and members with their spans, in characters.

The scanner of the standard library skips whole values at C speed, so the cost follows the siblings along
the path. Nothing here recurses with the depth of the document.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from workbench.late_pattern import late_pattern
from workbench.manifests.json_scanner import scan_value, scanstring
from workbench.values import dataclass

_SPACE = late_pattern(r"[ \t\n\r]*")
_COLON = late_pattern(r"[ \t\n\r]*:[ \t\n\r]*")
_COMMA = late_pattern(r"[ \t\n\r]*,?[ \t\n\r]*")
INDEX = late_pattern(r"0|[1-9][0-9]*", re.ASCII)
"""An array index of RFC 6901, section 4: no leading zero."""


@dataclass(frozen=True, slots=True)
class Member:
    """One member of an object or array."""

    key: str | None
    """None in an array."""
    start: int
    """Where the member starts: its key, or its value in an array."""
    key_end: int
    value: int
    end: int
    """Where its value ends."""


@dataclass(frozen=True, slots=True)
class Container:
    """An object or array with all its members."""

    is_object: bool
    open: int
    close: int
    """The indices of the brackets themselves."""
    members: tuple[Member, ...]


def after_space(clean: str, index: int) -> int:
    """The next index that is no white space."""
    return _SPACE.match(clean, index).end()  # type: ignore[union-attr]


def after_colon(clean: str, index: int) -> int:
    """Where the value starts whose key ends at `index`."""
    return _COLON.match(clean, index).end()  # type: ignore[union-attr]


def after_comma(clean: str, index: int) -> int:
    """The next member, or the closing bracket, behind a value that ends at `index`."""
    return _COMMA.match(clean, index).end()  # type: ignore[union-attr]


def value_end(clean: str, start: int) -> int:
    """Where the value that starts there ends."""
    return scan_value(clean, start)[1]


def iterate_members(clean: str, open_index: int) -> Iterator[Member]:
    """The members of the object or array that opens there."""
    is_object = clean[open_index] == "{"
    index = after_space(clean, open_index + 1)
    while clean[index] not in "]}":
        start, key, key_end = index, None, index
        if is_object:
            key, key_end = scanstring(clean, index + 1)
            index = after_colon(clean, key_end)
        end = scan_value(clean, index)[1]
        yield Member(key, start, key_end, index, end)
        index = after_comma(clean, end)


def read_container(clean: str, open_index: int) -> Container:
    """The whole object or array that opens there."""
    members = tuple(iterate_members(clean, open_index))
    close = after_space(clean, members[-1].end if members else open_index + 1)
    return Container(clean[open_index] == "{", open_index, close, members)


def locate(clean: str, tokens: tuple[str, ...]) -> int | None:
    """Where the value under these tokens starts; None without one. Of a key twice, the last."""
    index = after_space(clean, 0)
    for token in tokens:
        found = _locate_child(clean, index, token)
        if found is None:
            return None
        index = found
    return index


def _locate_child(clean: str, index: int, token: str) -> int | None:
    if clean[index] == "{":
        found = None
        for member in iterate_members(clean, index):
            if member.key == token:
                found = member.value
        return found
    if clean[index] != "[" or not INDEX.fullmatch(token):
        return None
    wanted = int(token) if len(token) < 10 else -1
    for position, member in enumerate(iterate_members(clean, index)):
        if position == wanted:
            return member.value
    return None

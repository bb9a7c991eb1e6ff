"""Finds its way in strict JSON text: keys, values and members with their spans, in characters.

The scanner of the standard library skips whole values at C speed, so the cost follows the siblings along
the path. Nothing here recurses with the depth of the document.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from json import JSONDecoder
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import NamedTuple

from workbench.manifests.selector import Selector

_SPACE = re.compile(r"[ \t\n\r]*")
_skip = _SPACE.match
_skip_colon = re.compile(r"[ \t\n\r]*:[ \t\n\r]*").match
_skip_comma = re.compile(r"[ \t\n\r]*,?[ \t\n\r]*").match
_scan = JSONDecoder().raw_decode
INDEX = re.compile(r"0|[1-9][0-9]*", re.ASCII)
"""An array index of RFC 6901, section 4: no leading zero."""


class Text(NamedTuple):
    """One string of the document."""

    pointer: str
    is_key: bool
    text: str
    start: int
    end: int
    """Span with the quotes."""
    bindings: Mapping[str, str]


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
    return _skip(clean, index).end()  # type: ignore[union-attr]


def value_end(clean: str, start: int) -> int:
    """Where the value that starts there ends."""
    return _scan(clean, start)[1]


def iterate_members(clean: str, open_index: int) -> Iterator[Member]:
    """The members of the object or array that opens there."""
    is_object = clean[open_index] == "{"
    index = after_space(clean, open_index + 1)
    while clean[index] not in "]}":
        start, key, key_end = index, None, index
        if is_object:
            key, key_end = scanstring(clean, index + 1)
            index = _skip_colon(clean, key_end).end()  # type: ignore[union-attr]
        end = _scan(clean, index)[1]
        yield Member(key, start, key_end, index, end)
        index = _skip_comma(clean, end).end()  # type: ignore[union-attr]


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


def escape_token(token: str) -> str:
    """One JSON Pointer token as it is written."""
    return token.replace("~", "~0").replace("/", "~1") if "~" in token or "/" in token else token


def find_texts(clean: str, at: Selector, *, all_of_a_key: bool) -> Iterator[Text]:
    """Keys and string values that the selector matches.

    With `all_of_a_key`, a literal token goes on to match after its first hit: the document has duplicates.
    """
    tokens = at.tokens
    last = len(tokens) - 1

    def walk(index: int, depth: int, pointer: str, bindings: dict[str, str]) -> Iterator[Text]:
        opening = clean[index]
        if opening not in "{[":
            return
        is_object, position = opening == "{", 0
        token = tokens[depth]
        index = _skip(clean, index + 1).end()  # type: ignore[union-attr]
        while clean[index] not in "]}":
            start = index
            if is_object:
                name, key_end = scanstring(clean, index + 1)
                index = _skip_colon(clean, key_end).end()  # type: ignore[union-attr]
            else:
                name = str(position)
                position += 1
            found = _agree(token.match(name), bindings)
            if found is not None:
                here = f"{pointer}/{escape_token(name)}"
                if depth < last:
                    yield from walk(index, depth + 1, here, found)
                else:
                    if is_object:
                        yield Text(here, True, name, start, key_end, found)
                    if clean[index] == '"':
                        text, end = scanstring(clean, index + 1)
                        yield Text(here, False, text, index, end, found)
                if token.name is None and not all_of_a_key:
                    return
            index = _skip_comma(clean, _scan(clean, index)[1]).end()  # type: ignore[union-attr]

    start = after_space(clean, 0)
    if tokens:
        yield from walk(start, 0, "", {})
    elif clean[start] == '"':
        text, end = scanstring(clean, start + 1)
        yield Text("", False, text, start, end, {})


def _agree(found: dict[str, str] | None, bindings: dict[str, str]) -> dict[str, str] | None:
    if not found:
        return None if found is None else bindings
    if any(bindings.get(name, value) != value for name, value in found.items()):
        return None
    return bindings | found


@dataclass(slots=True)
class _Level:
    is_object: bool
    pointer: str
    position: int = 0


def find_all_texts(clean: str) -> Iterator[Text]:
    """Every key and string value, in document order."""
    levels: list[_Level] = []
    index, here = after_space(clean, 0), ""
    while True:
        char = clean[index]
        if char in "{[":
            levels.append(_Level(char == "{", here))
            index += 1
        elif char == '"':
            text, end = scanstring(clean, index + 1)
            yield Text(here, False, text, index, end, _NO_BINDINGS)
            index = end
        else:
            index = _scan(clean, index)[1]
        index = after_space(clean, index)
        while levels and clean[index] in "]}":
            levels.pop()
            index = after_space(clean, index + 1)
        if not levels:
            return
        index = _skip_comma(clean, index).end()  # type: ignore[union-attr]
        level = levels[-1]
        if level.is_object:
            key, end = scanstring(clean, index + 1)
            here = f"{level.pointer}/{escape_token(key)}"
            yield Text(here, True, key, index, end, _NO_BINDINGS)
            index = _skip_colon(clean, end).end()  # type: ignore[union-attr]
        else:
            here = f"{level.pointer}/{level.position}"
            level.position += 1


_NO_BINDINGS: dict[str, str] = {}


def find_duplicate(clean: str) -> tuple[str, int, int] | None:
    """The first key that one object holds twice, and where both stand."""
    seen: dict[str, int] = {}
    for text in find_all_texts(clean):
        if text.is_key:
            first = seen.setdefault(text.pointer, text.start)
            if first != text.start:
                return text.text, first, text.start
    return None

"""Finds its way in strict JSON text: keys, values and members with their spans, in characters.

The scanner of the standard library skips whole values at C speed, so the cost follows the siblings along
the path. Nothing here recurses with the depth of the document.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from json import JSONDecoder
from json.decoder import scanstring  # type: ignore[attr-defined]
from typing import NamedTuple

from workbench.manifests.document import Value
from workbench.manifests.selector import Selector, Token

_SPACE = re.compile(r"[ \t\n\r]*")
_skip = _SPACE.match
_skip_colon = re.compile(r"[ \t\n\r]*:[ \t\n\r]*").match
_skip_comma = re.compile(r"[ \t\n\r]*,?[ \t\n\r]*").match
_scan = JSONDecoder().scan_once  # type: ignore[attr-defined]
CouldMatch = Callable[[str], bool]
UNGUIDED = object()
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


def find_texts(clean: str, data: Value, at: Selector, could_match: CouldMatch) -> Iterator[Text]:
    """String values that the selector matches and, where its last token has a placeholder, keys.

    Args:
        data: what the text says, to pass over members below which nothing fits; `UNGUIDED` where one key
            stands twice and the data does not tell.
        could_match: false for texts that nobody asks for.
    """
    tokens = at.tokens
    last = len(tokens) - 1

    def walk(index: int, value: Value, depth: int, pointer: str, bindings: dict[str, str]) -> Iterator[Text]:
        opening = clean[index]
        if opening not in "{[":
            return
        is_guided, is_object, position = value is not UNGUIDED, opening == "{", -1
        token = tokens[depth]
        wanted = _matching_keys(value, tokens, depth, could_match) if is_guided else frozenset()
        left = len(wanted)
        key: str | int
        index = _skip(clean, index + 1).end()  # type: ignore[union-attr]
        while clean[index] not in "]}" and (left or not is_guided):
            start = index
            if is_object:
                key, key_end = scanstring(clean, index + 1)
                index = _skip_colon(clean, key_end).end()  # type: ignore[union-attr]
            else:
                key = position = position + 1
            if not is_guided or key in wanted:
                left -= 1
                name = str(key)
                found = _agree(token.match(name), bindings)
                here = f"{pointer}/{escape_token(name)}"
                if found is None:
                    pass
                elif depth < last:
                    below = value[key] if is_guided else UNGUIDED
                    yield from walk(index, below, depth + 1, here, found)
                else:
                    if is_object and token.name is not None and could_match(name):
                        yield Text(here, True, name, start, key_end, found)
                    if clean[index] == '"':
                        text, end = scanstring(clean, index + 1)
                        if could_match(text):
                            yield Text(here, False, text, index, end, found)
            index = _skip_comma(clean, _scan(clean, index)[1]).end()  # type: ignore[union-attr]

    start = after_space(clean, 0)
    if tokens:
        yield from walk(start, data, 0, "", {})
    elif clean[start] == '"':
        text, end = scanstring(clean, start + 1)
        if could_match(text):
            yield Text("", False, text, start, end, {})


def _matching_keys(
    value: Value, tokens: tuple[Token, ...], depth: int, could_match: CouldMatch
) -> frozenset[str | int]:
    """The keys or indices of the members at or below which something could match."""
    token, is_last = tokens[depth], depth == len(tokens) - 1
    pairs: Iterable[tuple[str | int, Value]]
    if token.name is None:
        child = _child(value, token.before)
        pairs = (
            [] if child is None else [(int(token.before) if isinstance(value, list) else token.before, child)]
        )
    else:
        pairs = value.items() if isinstance(value, dict) else enumerate(value)
    if not is_last:
        return frozenset(key for key, child in pairs if _has_match(child, tokens, depth + 1, could_match))
    is_keyed = token.name is not None and isinstance(value, dict)
    return frozenset(
        key
        for key, child in pairs
        if (isinstance(child, str) and could_match(child)) or (is_keyed and could_match(str(key)))
    )


def _has_match(value: Value, tokens: tuple[Token, ...], depth: int, could_match: CouldMatch) -> bool:
    """Whether something below fits the selector by its shape and could match by its text."""
    token, is_last = tokens[depth], depth == len(tokens) - 1
    if token.name is None:
        child = _child(value, token.before)
        if is_last:
            return isinstance(child, str) and could_match(child)
        return _has_match(child, tokens, depth + 1, could_match)
    if isinstance(value, dict):
        if is_last and any(map(could_match, value)):
            return True
        children: Iterable[Value] = value.values()
    else:
        children = value if isinstance(value, list) else ()
    if is_last:
        return any(isinstance(child, str) and could_match(child) for child in children)
    return any(_has_match(child, tokens, depth + 1, could_match) for child in children)


def _child(value: Value, token: str) -> Value:
    if isinstance(value, dict):
        return value.get(token)
    if isinstance(value, list) and INDEX.fullmatch(token) and int(token[:10]) < len(value):
        return value[int(token)]
    return None


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

"""Takes a path apart as it is written in a manifest, and remembers where each component stands in the text.

Knows `file:` addresses (RFC 8089) with percent-encoding (RFC 3986, section 2.1), and a leading variable of
the profile. A backslash is not a separator. Pure: nothing here looks at a card.
"""

from __future__ import annotations

import re
from collections.abc import Mapping

from workbench.late_pattern import late_pattern
from workbench.values import dataclass

NOWHERE = -1
"""The span of a component that does not stand in the text (it comes from a variable or a folder)."""

_ADDRESS = late_pattern(r"file:(?://(?:localhost|127\.0\.0\.1)?(?=/))?", re.IGNORECASE)
_VARIABLE = late_pattern(r"\$(?:(\w+)|\{(\w+)\})(?=/|\Z)", re.ASCII)
_ENCODED = late_pattern(r"(?:%[0-9A-Fa-f]{2})+")


@dataclass(frozen=True, slots=True)
class Component:
    """One name between slashes, decoded."""

    text: str
    start: int
    end: int
    """Characters of the manifest's text that it stands for."""
    map: tuple[int, ...] | None = None
    """Where each decoded character starts in the text, and the end; None where it is one to one."""

    def span(self, start: int, end: int) -> tuple[int, int]:
        """Where characters `start:end` of the component stand in the text."""
        if self.map is not None:
            return self.map[start], self.map[end]
        return self.start + start, self.start + end


@dataclass(frozen=True, slots=True)
class PathText:
    """A path as written."""

    is_absolute: bool
    components: tuple[Component, ...]
    is_encoded: bool
    """Percent-encoding is undone in the components and has to be done again in what is written."""


def read_path(text: str, start: int, end: int, variables: Mapping[str, str]) -> tuple[PathText, ...]:
    """The ways to read characters `start:end` as a path, the plainest first."""
    address = _ADDRESS.match(text, start, end) if text[start : start + 1] in ("f", "F") else None
    if address is not None:
        stop = min((at for at in (text.find(sign, start, end) for sign in "?#") if at >= 0), default=end)
        return (_encoded(text, address.end(), stop),)
    readings = [_plain(text, start, end, variables)]
    if "%" in text and _ENCODED.search(text, start, end):
        readings.append(_encoded(text, start, end))
    return tuple(readings)


def _plain(text: str, start: int, end: int, variables: Mapping[str, str]) -> PathText:
    led: tuple[Component, ...] = ()
    absolute = text.startswith("/", start, end)
    variable = _VARIABLE.match(text, start, end) if text.startswith("$", start, end) else None
    if variable is not None:
        value = variables.get(variable[1] or variable[2])
        if value is not None:
            absolute = value.startswith("/")
            led = tuple(Component(part, NOWHERE, NOWHERE) for part in value.split("/") if part)
            start = variable.end()
    return PathText(absolute, led + tuple(_split(text, start, end)), False)


def _split(text: str, start: int, end: int) -> list[Component]:
    found = []
    at = start
    for part in text[start:end].split("/"):
        if part:
            found.append(Component(part, at, at + len(part)))
        at += len(part) + 1
    return found


def _encoded(text: str, start: int, end: int) -> PathText:
    absolute = text.startswith("/", start, end)
    components = tuple(_decode(part, text) for part in _split(text, start, end))
    return PathText(absolute, components, True)


def _decode(component: Component, text: str) -> Component:
    """Undo percent-encoding; what is no UTF-8 stays as it is written."""
    decoded: list[str] = []
    places: list[int] = []
    at = component.start
    while at < component.end:
        found = _ENCODED.match(text, at, component.end)
        piece = _unquote(found[0]) if found is not None else None
        if found is None or piece is None:
            decoded.append(text[at])
            places.append(at)
            at += 1
            continue
        for char in piece:
            decoded.append(char)
            places.append(at)
            at += 3 * len(char.encode())
    return Component("".join(decoded), component.start, component.end, (*places, component.end))


def _unquote(run: str) -> str | None:
    try:
        return bytes.fromhex(run.replace("%", "")).decode()
    except UnicodeDecodeError:
        return None


def percent_encode(text: str, like: str) -> str:
    """`text` as it stands in an address; letters beyond ASCII stay readable where `like` has them so."""
    keep_letters = not like.isascii()
    return "".join(
        char
        if char in _UNRESERVED or (keep_letters and char >= "\xa0")
        else "".join(f"%{byte:02X}" for byte in char.encode("utf-8", "surrogateescape"))
        for char in text
    )


def percent_encode_like(text: str, like: str) -> str:
    """`text` percent-encoded in place of `like`: what both begin or end with stays as it is written there."""
    old = _decode(Component(like, 0, len(like)), like)
    places = old.map or tuple(range(len(like) + 1))
    head, tail = count_shared_ends(old.text, text)
    middle = percent_encode(text[head : len(text) - tail], like)
    return like[: places[head]] + middle + like[places[len(old.text) - tail] :]


def count_shared_ends(one: str, other: str) -> tuple[int, int]:
    """How many characters two texts share at their beginnings, and at the ends of what is left."""
    shorter = min(len(one), len(other))
    head = next((n for n in range(shorter) if one[n] != other[n]), shorter)
    rest = shorter - head
    return head, next((n for n in range(rest) if one[-1 - n] != other[-1 - n]), rest)


_UNRESERVED = frozenset("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-._~")
"""RFC 3986, section 2.3."""

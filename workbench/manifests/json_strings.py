"""Every string of a JSON text by its number, so that data found by a selector is found in the text too.

The strings of a text are the keys and texts of its data, in the same order, as long as no object holds one
key twice. So the data is walked, which is quick, and the text is cut into strings just once.
"""

from __future__ import annotations

from workbench.late_pattern import late_pattern
from workbench.manifests.document import Value
from workbench.manifests.selector import Token, bind, escape_token

_STRING = late_pattern(r'"[^"\\]*+(?:\\.[^"\\]*+)*+"')

Found = tuple[str, bool, str, int, int, dict[str, str]]
"""Pointer, whether it is a key, text, span with the quotes, and bindings."""


class JsonStrings:
    """The strings of one text; `clean` is strict JSON and says what `data` holds."""

    def __init__(self, clean: str, data: Value) -> None:
        self._spans = [found.span() for found in _STRING.finditer(clean)]
        self._data = data
        self._next: dict[int, int] = {}
        """Of each object and array, by its identity: the number of the first string behind it."""
        self.is_sound = self._number(data, 0) == len(self._spans)
        """Whether the strings are those of the data."""

    def find(self, tokens: tuple[Token, ...]) -> list[Found]:
        """What a selector matches, in the order of the text: texts and, where its last token binds, keys."""
        found: list[Found] = []
        if type(self._data) in (dict, list) and tokens:
            self._walk(self._data, 0, tokens, 0, "", {}, found)
        elif isinstance(self._data, str) and not tokens:
            found.append(("", False, self._data, *self._spans[0], {}))
        return found

    def _number(self, value: Value, at: int) -> int:
        if type(value) is str:
            return at + 1
        if type(value) is dict:
            for child in value.values():
                at += 1
                kind = type(child)
                if kind is str:
                    at += 1
                elif kind is dict or kind is list:
                    at = self._number(child, at)
        elif type(value) is list:
            for child in value:
                kind = type(child)
                if kind is str:
                    at += 1
                elif kind is dict or kind is list:
                    at = self._number(child, at)
        else:
            return at
        self._next[id(value)] = at
        return at

    def _walk(
        self,
        value: Value,
        at: int,
        tokens: tuple[Token, ...],
        depth: int,
        pointer: str,
        bindings: dict[str, str],
        found: list[Found],
    ) -> None:
        """`at` is the number of the first string in the value, an object or array."""
        token, is_last, is_object = tokens[depth], depth == len(tokens) - 1, type(value) is dict
        for name, child in value.items() if is_object else enumerate(value):
            key = str(name)
            first = at + is_object
            kind = type(child)
            is_open = kind is dict or kind is list
            own, at = at, self._next[id(child)] if is_open else first + (kind is str)
            bound = bind(token, key, bindings)
            if bound is None:
                continue
            if not is_last:
                if is_open:
                    self._walk(
                        child, first, tokens, depth + 1, f"{pointer}/{escape_token(key)}", bound, found
                    )
                continue
            here = f"{pointer}/{escape_token(key)}"
            if token.name is not None and is_object:
                found.append((here, True, key, *self._spans[own], bound))
            if kind is str:
                found.append((here, False, child, *self._spans[first], bound))

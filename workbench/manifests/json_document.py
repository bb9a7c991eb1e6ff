"""A JSON manifest. Spans are found along the pointer; an edit changes only the bytes of what it is about."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import cached_property

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Edit, Format, Node, Role, Value, anything
from workbench.manifests.json_find import UNGUIDED, Hot, Text, find_all_texts, find_duplicate, find_texts
from workbench.manifests.json_judge import JsonText, judge_json
from workbench.manifests.json_quoting import quote_json, writes_escapes
from workbench.manifests.json_strings import Found, JsonStrings
from workbench.manifests.json_walk import INDEX, locate
from workbench.manifests.plain_data import copy_data
from workbench.manifests.positions import Positions, named, refused
from workbench.manifests.selector import Selector, split_pointer

_PIECE = late_pattern(
    r"\\u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|\\u[0-9a-fA-F]{4}|\\.|.", re.DOTALL
)


def open_json(raw: bytes, path: str = "") -> JsonDocument:
    """Judge the bytes and open them.

    Raises:
        ManifestError: malformed JSON, with line, column and the line's text.
    """
    return JsonDocument(raw, path, judge_json(raw, path))


class JsonDocument:
    """A well-formed JSON text with its bytes; see `Document` for the contract of each method."""

    format: Format = "json"

    def __init__(self, raw: bytes, path: str, judged: JsonText) -> None:
        self.raw = raw
        self._path = path
        self._judged = judged
        self._positions = Positions(judged.text, judged.head)
        self._hot = Hot(judged.clean)

    def find(self, at: Selector | None) -> Iterator[Node]:
        """Strings (role `value`) that match and, where the last token is a placeholder, keys (role `key`)."""
        return self.find_matching(at, anything)

    def find_matching(self, at: Selector | None, could_match: Callable[[str], bool]) -> Iterator[Node]:
        """What `find` yields, without the texts that could not match: these cost next to nothing."""
        judged = self._judged
        texts: Iterable[Text | Found]
        if at is not None and could_match is anything and self._strings is not None:
            texts = self._strings.find(at.tokens)
        elif at is None:
            texts = (text for text in find_all_texts(judged.clean) if could_match(text.text))
        else:
            data = UNGUIDED if judged.has_duplicates else judged.data
            texts = find_texts(judged.clean, data, at, could_match, self._hot)
        byte, line = self._positions.byte, self._positions.line
        for pointer, is_key, text, start, end, bindings in texts:
            role: Role = "key" if is_key else "value"
            yield Node(pointer, role, text, byte(start), byte(end), line(start), bindings, (start, end))

    @cached_property
    def _strings(self) -> JsonStrings | None:
        """None where the data does not tell what the text holds."""
        if self._judged.has_duplicates:
            return None
        strings = JsonStrings(self._judged.clean, self._judged.data)
        return strings if strings.is_sound else None

    def get(self, pointer: str) -> Value:
        """The data at a pointer (RFC 6901); a copy where it is an object or array."""
        value = self._judged.data
        for token in split_pointer(pointer):
            if isinstance(value, dict) and token in value:
                value = value[token]
            elif isinstance(value, list) and INDEX.fullmatch(token) and int(token[:10]) < len(value):
                value = value[int(token)]
            else:
                raise self._missing(pointer)
        return copy_data(value) if isinstance(value, dict | list) else value

    def line_of(self, pointer: str) -> int:
        """The line where the value at that pointer starts."""
        index = locate(self._judged.clean, split_pointer(pointer))
        if index is None:
            raise self._missing(pointer)
        return self._positions.line(index)

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        """Put `text` in place of those characters; escapes around them stay as they are written."""
        self.check_editable()
        if not 0 <= start <= end <= len(node.text):
            raise ValueError(f"{start}:{end} lies outside the text {node.text!r}")
        first, last = node.detail
        body = self._judged.text[first + 1 : last - 1]
        if "\\" in body:
            ends = [0, *(piece.end() for piece in _PIECE.finditer(body))]
            start, end = ends[start], ends[end]
        new = quote_json(text, writes_escapes(self._judged.text))[1:-1]
        return self._edit(first + 1 + start, first + 1 + end, new)

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Make `get(pointer)` equal `value`; what is equal already keeps its bytes."""
        from workbench.manifests import json_edits

        self.check_editable()
        return self._edits(
            json_edits.set_value(self._judged, self._tokens(pointer), value, self.get(pointer))
        )

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        """Add a member: a new key at the end of its object, an index or `-` in an array."""
        from workbench.manifests import json_edits

        self.check_editable()
        tokens = split_pointer(pointer)
        if not tokens:
            raise self._refuse("", "the whole document cannot be inserted", "name a place in it")
        parent = self._tokens(pointer.rpartition("/")[0])
        return self._edits(json_edits.insert_member(self._judged, parent, tokens[-1], value, self._path))

    def delete(self, pointer: str) -> Sequence[Edit]:
        """Take a member out, with the comment lines right above it and the comment behind it."""
        from workbench.manifests import json_edits

        self.check_editable()
        tokens = self._tokens(pointer)
        if not tokens:
            raise self._refuse("", "the whole document cannot be deleted", "name a member of it")
        return self._edits(json_edits.delete_member(self._judged, tokens))

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:
        """Give the member at `pointer` another key."""
        from workbench.manifests import json_edits

        self.check_editable()
        tokens = self._tokens(pointer)
        parent = self.get(pointer.rpartition("/")[0]) if tokens else None
        if not isinstance(parent, dict):
            raise self._refuse(
                pointer, f"{pointer or 'the whole document'} has no key", "name a member of an object"
            )
        if key == tokens[-1]:
            return ()
        if key in parent:
            raise self._refuse(pointer, f"the key {key!r} is there already", "choose another key")
        return self._edits(json_edits.rename_key(self._judged, tokens, key))

    def check_editable(self) -> None:
        """Refuse edits of a document in which one key stands twice.

        Raises:
            ManifestError: with the line of the second.
        """
        duplicate = find_duplicate(self._judged.clean) if self._judged.has_duplicates else None
        if duplicate is not None:
            key, first, second = duplicate
            lines = self._positions.line(first), self._positions.line(second)
            problem = f"the key {key!r} stands in one object twice (first on line {lines[0]})"
            raise refused(self._path, lines[1], problem, "take one of the two out first")

    def _tokens(self, pointer: str) -> tuple[str, ...]:
        tokens = split_pointer(pointer)
        if locate(self._judged.clean, tokens) is None:
            raise self._missing(pointer)
        return tokens

    def _edit(self, start: int, end: int, new: str) -> Edit:
        return Edit(self._positions.byte(start), self._positions.byte(end), new.encode())

    def _edits(self, changes: Sequence[tuple[int, int, str]]) -> tuple[Edit, ...]:
        return tuple(self._edit(*change) for change in sorted(changes))

    def _missing(self, pointer: str) -> ManifestError:
        message = f"{named(self._path)} holds nothing at {pointer!r}. Look at the manifest for what it holds."
        return ManifestError(message, path=self._path or None)

    def _refuse(self, pointer: str, problem: str, advice: str) -> ManifestError:
        return refused(self._path, self.line_of(pointer) if pointer else None, problem, advice)

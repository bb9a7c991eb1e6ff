"""Where keys and values stand in a well-formed TOML document. tomllib has judged the bytes before; what is
read here is compared with its data before anyone edits by it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from workbench.late_pattern import late_pattern
from workbench.manifests.toml_text import read_text
from workbench.typed import Literal
from workbench.values import dataclass, field

Kind = Literal["string", "scalar", "array", "inline"]
Path = tuple[str, ...]

_SKIP = late_pattern(rb"(?:[ \t\r\n]+|#[^\n]*)*")
_KEY = late_pattern(rb"[A-Za-z0-9_-]+|\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'")
_DOT = late_pattern(rb"[ \t]*\.[ \t]*")
_EQUALS = late_pattern(rb"[ \t]*=[ \t]*")
_STRING = late_pattern(
    rb"\"\"\"(?:[^\"\\]|\\[\s\S]|\"{1,2}(?!\"))*\"{3,5}|'''(?:[^']|'{1,2}(?!'))*'{3,5}"
    rb"|\"(?:[^\"\\\n]|\\.)*\"|'[^'\n]*'"
)
_SCALAR = late_pattern(rb"[0-9]{4}-[0-9]{2}-[0-9]{2} [0-9][^\s,\]}#]*|[^\s,\]}#]+")
_PLAIN_PAIR = late_pattern(
    rb"([A-Za-z0-9_-]+)[ \t]*=[ \t]*"
    rb"((\"[^\"\\\n]*\"|'[^'\n]*')|[0-9A-Za-z+.:_-]+)[ \t]*(?:#[^\n]*|\r)?(?:\n|\Z)"
)
"""The commonest statement, read at one go."""
_REST = late_pattern(rb"[ \t]*(?:#[^\n]*)?(?:\n|\Z)|[ \t]*\r\n")


@dataclass(frozen=True, slots=True)
class Key:
    """One part of a key as written, and the path of what it names."""

    path: Path
    start: int
    end: int
    text: str


@dataclass(slots=True)
class Entry:
    """A value: of a pair, of an inline table, or in an array."""

    path: Path
    keys: list[Key]
    """Empty in an array."""
    start: int
    end: int = 0
    kind: Kind = "scalar"
    children: list[Entry] = field(default_factory=list)
    has_comments: bool = False

    @property
    def first(self) -> int:
        """Where it starts, its key included."""
        return self.keys[0].start if self.keys else self.start


@dataclass(slots=True)
class Pair:
    """A line (or more) `key = value`."""

    table: Path
    """The header that it stands under."""
    entry: Entry
    start: int
    """Of its line."""
    stop: int
    """After its line ending."""


@dataclass(slots=True)
class Header:
    """A line `[table]` or `[[table]]`."""

    path: Path
    """With the index of each array of tables on the way, its own included."""
    keys: list[Key]
    is_list: bool
    start: int
    stop: int


Statement = Pair | Header


def scan_toml(raw: bytes) -> list[Statement]:
    """The statements of a document, in order."""
    return list(_Scanner(raw).statements())


def entries_below(entry: Entry) -> Iterator[Entry]:
    """The value and everything in it, in document order."""
    waiting = [entry]
    while waiting:
        one = waiting.pop()
        yield one
        waiting += reversed(one.children)


class _Scanner:
    def __init__(self, raw: bytes) -> None:
        self._raw = raw
        self._at = 0
        self._table: Path = ()
        self._counts: dict[Path, int] = {}
        """Tables in each array of tables so far."""

    def statements(self) -> Iterator[Statement]:
        while self._skip() < len(self._raw):
            yield self._header() if self._raw[self._at] == 0x5B else self._pair()

    def _skip(self) -> int:
        found = _SKIP.match(self._raw, self._at)
        assert found
        self._at = found.end()
        return self._at

    def _line_start(self) -> int:
        return self._raw.rfind(b"\n", 0, self._at) + 1

    def _take(self, pattern: re.Pattern[bytes]) -> bytes:
        found = pattern.match(self._raw, self._at)
        if not found:
            raise ValueError(f"byte {self._at}")
        self._at = found.end()
        return found[0]

    def _end_of_line(self) -> int:
        self._take(_REST)
        return self._at

    def _key_texts(self) -> list[tuple[str, int, int]]:
        found: list[tuple[str, int, int]] = []
        while True:
            start = self._at
            token = self._take(_KEY)
            text = token.decode("ascii") if token[0] not in b"\"'" else read_text(token)
            found.append((text, start, self._at))
            if not (dot := _DOT.match(self._raw, self._at)):
                return found
            self._at = dot.end()

    def _header(self) -> Header:
        start = self._line_start()
        is_list = self._raw[self._at : self._at + 2] == b"[["
        self._at += 2 if is_list else 1
        self._spaces()
        keys: list[Key] = []
        path: Path = ()
        parts = self._key_texts()
        for text, first, last in parts:
            path = (*path, text)
            keys.append(Key(path, first, last, text))
            if len(keys) < len(parts) and path in self._counts:
                path = (*path, str(self._counts[path] - 1))
        if is_list:
            count = self._counts.get(path, 0)
            self._counts[path] = count + 1
            path = (*path, str(count))
        self._spaces()
        self._at += 2 if is_list else 1
        self._table = path
        return Header(path, keys, is_list, start, self._end_of_line())

    def _spaces(self) -> None:
        while self._raw[self._at : self._at + 1] in (b" ", b"\t"):
            self._at += 1

    def _pair(self) -> Pair:
        start = self._line_start()
        if plain := _PLAIN_PAIR.match(self._raw, self._at):
            self._at = plain.end()
            text = plain[1].decode("ascii")
            path = (*self._table, text)
            keys = [Key(path, plain.start(1), plain.end(1), text)]
            kind: Kind = "string" if plain[3] else "scalar"
            return Pair(self._table, Entry(path, keys, *plain.span(2), kind), start, self._at)
        entry = self._member(self._table)
        return Pair(self._table, entry, start, self._end_of_line())

    def _member(self, path: Path) -> Entry:
        keys: list[Key] = []
        for text, first, last in self._key_texts():
            path = (*path, text)
            keys.append(Key(path, first, last, text))
        self._take(_EQUALS)
        return self._value(path, keys)

    def _value(self, path: Path, keys: list[Key]) -> Entry:
        entry = Entry(path, keys, self._at)
        opening = self._raw[self._at : self._at + 1]
        if opening in (b'"', b"'"):
            entry.kind = "string"
            self._take(_STRING)
        elif opening == b"[":
            entry.kind = "array"
            self._fill(entry, b"]")
        elif opening == b"{":
            entry.kind = "inline"
            self._fill(entry, b"}")
        else:
            self._take(_SCALAR)
        entry.end = self._at
        return entry

    def _fill(self, entry: Entry, closing: bytes) -> None:
        self._at += 1
        while True:
            before = self._at
            self._skip()
            entry.has_comments |= b"#" in self._raw[before : self._at]
            mark = self._raw[self._at : self._at + 1]
            if mark in (closing, b","):
                self._at += 1
                if mark == closing:
                    return
                continue
            if closing == b"]":
                child = self._value((*entry.path, str(len(entry.children))), [])
            else:
                child = self._member(entry.path)
            entry.children.append(child)
            entry.has_comments |= child.has_comments

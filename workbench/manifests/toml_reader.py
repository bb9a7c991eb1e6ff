"""Reads TOML: what is plain in one pass of ours, everything else by the standard library.

Most files are tables of texts, numbers, switches and lists of these; they are read here in a part of the
time that `tomllib` takes to be imported and to read them. Whatever is not plain, well formed or not, is left
to it: so nothing is taken for TOML that it would refuse, and every error is its own.
"""

from __future__ import annotations

from workbench.late_pattern import late_pattern
from workbench.manifests.document import MAX_DEPTH
from workbench.typed import Any, NamedTuple

_PAIR = late_pattern(
    r"""([A-Za-z0-9_-]+|"[^"\\\n]+"|'[^'\n]+')[ \t]*=[ \t]*"""
    r"""(?:("[^"\\\n]*"|'[^'\n]*')|([0-9.+-]+|true|false))[ \t]*(?:#[^\n]*)?\n"""
)
"""A line with a key and a text, a number or a switch: most lines are read at one go."""
_DEEPEST = 60
"""Nesting up to which values are read here."""
_CONTROLS = {code: None for code in (*range(0x20), 0x7F) if code not in (0x09, 0x0A)}
_DIGITS = frozenset("0123456789")
_LONG_KEY = late_pattern(
    rf"""(?<![A-Za-z0-9_-])(?:(?:[A-Za-z0-9_-]++|"[^"\n]*+"|'[^'\n]*+')[ \t]*+\.[ \t]*+){{{MAX_DEPTH}}}"""
)
"""A dotted key of more parts than a manifest may be deep: tomllib takes their square in memory."""


Path = tuple[str, ...]


Place = tuple[Path, bool, str, int, int]
"""A key or a text: its path (with the index of each array of tables on the way; of a key, its value's),
whether it is a key, the text, and the characters at which it starts and ends, quotes included.
"""


class Reading(NamedTuple):
    """What a plain file says."""

    data: dict[str, Any]
    places: list[Place] | None
    """Every key and text, in the order in which they stand; None where not all were looked at."""


def read_toml(text: str) -> dict[str, Any]:
    """What `tomllib.loads` returns.

    Raises:
        tomllib.TOMLDecodeError: it is no TOML 1.0.
        RecursionError: it is nested too deeply.
    """
    return read_toml_places(text).data


def read_toml_places(text: str) -> Reading:
    """The same, with where its keys and texts stand, if all of it is plain."""
    refuse_long_keys(text)
    plain = _read_plain(text)
    if plain is not None:
        return plain
    import tomllib

    return Reading(tomllib.loads(text), None)


def refuse_long_keys(text: str) -> None:
    """Stop before anyone reads a dotted key of hundreds of parts.

    Raises:
        RecursionError: there is one.
    """
    if text.count(".") > MAX_DEPTH and any(
        line.count(".") > MAX_DEPTH and _LONG_KEY.search(line) for line in text.split("\n")
    ):
        raise RecursionError("a dotted key goes too deep")


def read_plain(text: str) -> dict[str, Any] | None:
    """The data of a plain file; None where the standard library has to say what it is."""
    plain = _read_plain(text)
    return plain.data if plain is not None else None


def _read_plain(text: str) -> Reading | None:
    lines = text.replace("\r\n", "\n") if "\r" in text else text
    if len(lines.translate(_CONTROLS)) != len(lines):
        return None
    try:
        data, places = _Plain(lines).read()
    except (_NotPlain, IndexError):
        return None
    return Reading(data, places if lines is text else None)


class _NotPlain(Exception):
    """Not for us to read."""


class _Table:
    """A table that headers have made, and those below it."""

    __slots__ = ("below", "is_declared", "items", "members")

    def __init__(self) -> None:
        self.members: dict[str, Any] = {}
        self.below: dict[str, _Table] = {}
        self.is_declared = False
        """Whether a header of its own stood already."""
        self.items: list[dict[str, Any]] | None = None
        """Of an array of tables: all of them; `members` is the last."""


class _Plain:
    def __init__(self, text: str) -> None:
        self._text = text + "\n"
        self._root = _Table()
        self._places: list[Place] = []
        self._is_whole = True
        """Whether every key and text is among the places."""

    def read(self) -> tuple[dict[str, Any], list[Place] | None]:
        text, at, end = self._text, 0, len(self._text)
        members = self._root.members
        path: Path = ()
        match, place = _PAIR.match, self._places.append
        while at < end:
            pair = match(text, at)
            if pair is not None:
                start, stop = pair.span(1)
                key = text[start:stop]
                key = key[1:-1] if key[0] in "\"'" else key
                if key in members:
                    raise _NotPlain
                here = (*path, key)
                place((here, True, key, start, stop))
                value = pair[2]
                if value is not None:
                    members[key] = value = value[1:-1]
                    place((here, False, value, *pair.span(2)))
                else:
                    members[key] = _read_word(pair[3])
                at = pair.end()
                continue
            at = self._after_blanks(at)
            first = text[at]
            if first == "[":
                members, path, at = self._read_header(at)
            elif first not in "\n#":
                key, at = self._read_key(at)
                value, at = self._read_value(self._after_equals(at), 0)
                _add(members, key, value)
                self._is_whole = False
            at = self._after_line(at)
        return self._root.members, self._places if self._is_whole else None

    def _after_blanks(self, at: int) -> int:
        text = self._text
        while text[at] in " \t":
            at += 1
        return at

    def _after_line(self, at: int) -> int:
        """The next line, where only a comment may stand before it."""
        at = self._after_blanks(at)
        first = self._text[at]
        if first == "#":
            return self._text.index("\n", at) + 1
        if first != "\n":
            raise _NotPlain
        return at + 1

    def _after_equals(self, at: int) -> int:
        at = self._after_blanks(at)
        if self._text[at] != "=":
            raise _NotPlain
        return self._after_blanks(at + 1)

    def _read_key(self, at: int) -> tuple[str, int]:
        """One key, bare or in quotes."""
        text = self._text
        if text[at] in "\"'":
            return self._read_text(at)
        end = at
        while text[end] not in " \t=.]\n":
            end += 1
        key = text[at:end]
        if not (key.isascii() and key.replace("-", "a").replace("_", "a").isalnum()):
            raise _NotPlain
        return key, end

    def _read_header(self, at: int) -> tuple[dict[str, Any], Path, int]:
        """The table that a header opens, its path, and where the header ends."""
        is_array = self._text.startswith("[[", at)
        closing = "]]" if is_array else "]"
        table, above, key = self._root, self._root, ""
        path: Path = ()
        at += len(closing)
        while True:
            start = self._after_blanks(at)
            key, at = self._read_key(start)
            path = (*path, key)
            self._places.append((path, True, key, start, at))
            above, table = table, _go_below(table, key)
            at = self._after_blanks(at)
            if self._text[at] != ".":
                break
            at += 1
            path = path if table.items is None else (*path, str(len(table.items) - 1))
        if not self._text.startswith(closing, at):
            raise _NotPlain
        if is_array:
            path = (*path, str(_begin_item(above, table, key)))
        elif table.is_declared or table.items is not None:
            raise _NotPlain
        table.is_declared = True
        return table.members, path, at + len(closing)

    def _read_value(self, at: int, depth: int) -> tuple[Any, int]:
        text = self._text
        first = text[at]
        if first in "\"'":
            return self._read_long(at) if text.startswith(first * 3, at) else self._read_text(at)
        if first == "[":
            return self._read_array(at + 1, depth)
        if first == "{":
            return self._read_inline(at + 1, depth)
        end = at
        while text[end] not in " \t\n,]}#":
            end += 1
        return _read_word(text[at:end]), end

    def _read_text(self, at: int) -> tuple[str, int]:
        text = self._text
        end = text.find(text[at], at + 1)
        found = text[at + 1 : end]
        if end < 0 or "\n" in found or (not found and text[end + 1] == text[at]):
            raise _NotPlain
        if "\\" in found and text[at] == '"':
            raise _NotPlain
        return found, end + 1

    def _read_long(self, at: int) -> tuple[str, int]:
        """A text over several lines."""
        text, mark = self._text, self._text[at] * 3
        end = text.find(mark, at + 3)
        found = text[at + 3 : end]
        if end < 0 or text[end + 3] == mark[0] or ("\\" in found and mark[0] == '"'):
            raise _NotPlain
        return found.removeprefix("\n"), end + 3

    def _read_array(self, at: int, depth: int) -> tuple[list[Any], int]:
        if depth > _DEEPEST:
            raise _NotPlain
        items: list[Any] = []
        while True:
            at = self._after_gap(at)
            if self._text[at] == "]":
                return items, at + 1
            value, at = self._read_value(at, depth + 1)
            items.append(value)
            at = self._after_gap(at)
            if self._text[at] == ",":
                at += 1
            elif self._text[at] != "]":
                raise _NotPlain

    def _after_gap(self, at: int) -> int:
        """The next thing in an array: blanks, line ends and comments may stand before it."""
        text = self._text
        while (char := text[at]) in " \t\n#":
            at = text.index("\n", at) + 1 if char == "#" else at + 1
        return at

    def _read_inline(self, at: int, depth: int) -> tuple[dict[str, Any], int]:
        if depth > _DEEPEST:
            raise _NotPlain
        members: dict[str, Any] = {}
        at = self._after_blanks(at)
        if self._text[at] == "}":
            return members, at + 1
        while True:
            key, at = self._read_key(self._after_blanks(at))
            value, at = self._read_value(self._after_equals(at), depth + 1)
            _add(members, key, value)
            at = self._after_blanks(at)
            if self._text[at] == "}":
                return members, at + 1
            if self._text[at] != ",":
                raise _NotPlain
            at += 1


def _add(members: dict[str, Any], key: str, value: Any) -> None:
    if key in members:
        raise _NotPlain
    members[key] = value


def _go_below(table: _Table, key: str) -> _Table:
    """The table of that name in another, made where there is none."""
    found = table.below.get(key)
    if found is None:
        found = table.below[key] = _Table()
        _add(table.members, key, found.members)
    return found


def _begin_item(above: _Table, table: _Table, key: str) -> int:
    """Begin the next table of an array; returns its index."""
    if table.items is None:
        if table.is_declared or table.members:
            raise _NotPlain
        table.items = above.members[key] = []
    table.members, table.below = {}, {}
    table.items.append(table.members)
    return len(table.items) - 1


def _read_word(word: str) -> Any:
    """A switch or a number without anything special about it."""
    if word == "true":
        return True
    if word == "false":
        return False
    digits = word[1:] if word[:1] in ("+", "-") else word
    whole, point, part = digits.partition(".")
    if not _is_decimal(whole) or (whole[0] == "0" and len(whole) > 1) or (point and not _is_decimal(part)):
        raise _NotPlain
    return float(word) if point else int(word)


def _is_decimal(digits: str) -> bool:
    return 0 < len(digits) < 300 and _DIGITS.issuperset(digits)

"""Reads the lines of INI and key=value files: sections, and members with a key and a value.

INI follows Python's configparser where it is at its most permissive (`=` or `:`, keys without a value, full
comment lines with `;` or `#`, a deeper indented line continues the value above unless it looks like a member
itself), with keys before the first section besides. Key=value knows neither sections nor continued lines,
needs its `=`, and takes the `export` that many such files have before a name for no part of it.
"""

from __future__ import annotations

from itertools import accumulate

from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import Line, broken_at, decode, split_lines
from workbench.manifests.plain_value import BLANKS, PlainValue, is_open_quote, read_value
from workbench.values import dataclass, field, replace

_INI_MARK = late_pattern(rb"[=:]")
_PLAIN_MARK = late_pattern(rb"=")
_EXPORT = late_pattern(rb"export[ \t]+(?=[A-Za-z_])")
_HEADER = late_pattern(rb"\[(.+)\](?=[ \t]*(?:[ \t][#;].*)?\Z)")
_LOOKS_LIKE_MEMBER = late_pattern(rb"[\w.-]+[ \t]*(?:=|:(?!//))|\[.+\][ \t\r]*\Z")
_NO_CONTINUING = 1 << 30


@dataclass(frozen=True, slots=True)
class Piece:
    """One line's share of a value."""

    offset: int
    """Where it starts in the value's text, in characters."""
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Member:
    """A key and its value, on one line or more."""

    path: tuple[str, ...]
    """`(key,)`, or `(section, key)` in INI."""
    key_start: int
    key_end: int
    value: PlainValue | None
    """None where the key stands alone."""
    start: int
    stop: int
    """Span of its lines, line endings included."""
    first: int
    last: int
    """Its lines, counted from 0."""
    pieces: tuple[Piece, ...] = ()
    """Of a continued value; empty otherwise."""

    @property
    def key(self) -> str:
        return self.path[-1]


@dataclass(frozen=True, slots=True)
class Section:
    name: str
    name_start: int
    name_end: int
    start: int
    stop: int
    first: int
    """Its header's line, counted from 0."""


@dataclass(slots=True)
class KeyLines:
    """All that a file says."""

    lines: list[Line]
    comments: set[int] = field(default_factory=set)
    """Lines that hold only a comment, counted from 0."""
    members: list[Member] = field(default_factory=list)
    sections: list[Section] = field(default_factory=list)


def read_key_lines(raw: bytes, path: str, *, is_ini: bool) -> KeyLines:
    """Read a whole file.

    Raises:
        ManifestError: a line is none of what the format knows.
    """
    reader = _Reader(raw, path, is_ini)
    for row, line in enumerate(reader.found.lines):
        reader.take(row, line)
    reader.settle()
    return reader.found


def read_key(line: bytes, *, is_ini: bool) -> tuple[int, int, int | None] | None:
    """Start and end of the key in one line, and where its value starts (None: it has none).

    None where the line is no member: empty, a comment, a section's header, or without a key.
    """
    start = len(line) - len(line.lstrip(BLANKS))
    if line[start : start + 1] in (b"", b"#", b";") or (is_ini and line[start : start + 1] == b"["):
        return None
    mark = (_INI_MARK if is_ini else _PLAIN_MARK).search(line, start)
    if mark is None and not is_ini:
        return None
    if not is_ini and (exported := _EXPORT.match(line, start)):
        start = exported.end()
    key_end = start + len(line[start : mark.start() if mark else len(line)].rstrip(BLANKS))
    if key_end == start:
        return None
    return start, key_end, mark.end() if mark else None


def read_header(line: bytes) -> tuple[int, int] | None:
    """Start and end of a section's name in its header line."""
    start = len(line) - len(line.lstrip(BLANKS))
    found = _HEADER.match(line.rstrip(BLANKS), start)
    return found.span(1) if found else None


def read_member_line(raw: bytes, line: Line, row: int, section: str, *, is_ini: bool) -> Member | None:
    """The member in one line; None where it is none."""
    span = read_key(raw[line.start : line.end], is_ini=is_ini)
    if span is None:
        return None
    key_start, key_end = line.start + span[0], line.start + span[1]
    value = None if span[2] is None else read_value(raw, line.start + span[2], line.end)
    key = decode(raw[key_start:key_end])
    path = (section, key) if is_ini else (key,)
    return Member(path, key_start, key_end, value, line.start, line.stop, row, row)


def read_header_line(raw: bytes, line: Line, row: int) -> Section | None:
    """The section that a line opens; None where it is no header."""
    span = read_header(raw[line.start : line.end])
    if span is None:
        return None
    start, end = line.start + span[0], line.start + span[1]
    return Section(decode(raw[start:end]), start, end, line.start, line.stop, row)


class _Reader:
    def __init__(self, raw: bytes, path: str, is_ini: bool) -> None:
        self._raw = raw
        self._path = path
        self._is_ini = is_ini
        self._section = ""
        self._indent = _NO_CONTINUING
        self._is_open = False
        """Whether a member could go on in the next line."""
        self._more: list[tuple[int, int, int]] = []
        """Start, end and stop of each line that continues the last member."""
        self.found = KeyLines(split_lines(raw))

    def take(self, row: int, line: Line) -> None:
        content = self._raw[line.start : line.end]
        inner = content.lstrip(BLANKS)
        indent = len(content) - len(inner)
        if not inner or inner[:1] in (b"#", b";"):
            if inner:
                self.found.comments.add(row)
            self._indent = _NO_CONTINUING
            return
        if self._continues(indent, inner):
            self._continue(line, indent)
            return
        self.settle()
        self._indent = indent
        if self._is_ini and inner[:1] == b"[":
            self._take_header(row, line, content)
        else:
            self._take_member(row, line, content)

    def _continues(self, indent: int, inner: bytes) -> bool:
        """Whether a line goes on with the value above.

        Readers differ on an indented `key = value` or `[section]`: to some it is one, to others more of that
        value. Here it is one, so that what it names is found; replacing a name serves both.
        """
        is_deeper = self._is_ini and self._is_open and indent > self._indent
        return is_deeper and not _LOOKS_LIKE_MEMBER.match(inner)

    def _take_header(self, row: int, line: Line, content: bytes) -> None:
        section = read_header_line(self._raw, line, row)
        if section is None:
            at = line.start + content.index(b"[")
            raise broken_at(self._raw, at, self._path, "a section's name is empty or not closed with ']'")
        self._section = section.name
        self._is_open = False
        self.found.sections.append(section)

    def _take_member(self, row: int, line: Line, content: bytes) -> None:
        member = read_member_line(self._raw, line, row, self._section, is_ini=self._is_ini)
        if member is None:
            raise self._no_member(line, content)
        if member.value is not None and not self._is_ini:
            self._refuse_open_quote(member.value)
        self.found.members.append(member)
        self._is_open = True

    def _no_member(self, line: Line, content: bytes) -> Exception:
        at = line.start + len(content) - len(content.lstrip(BLANKS))
        if self._raw[at : at + 1] in (b"=", b":"):
            return broken_at(self._raw, at, self._path, "a key is missing before this")
        problem = "this line is neither a comment nor NAME=VALUE"
        return broken_at(self._raw, at, self._path, problem)

    def _refuse_open_quote(self, value: PlainValue) -> None:
        if not value.quote and is_open_quote(self._raw[value.start : value.end]):
            problem = "the text that starts here is never closed with a double quote"
            raise broken_at(self._raw, value.start, self._path, problem)

    def _continue(self, line: Line, indent: int) -> None:
        start = line.start + indent
        if self.found.members[-1].value is None:
            raise broken_at(self._raw, start, self._path, "this continues a key that has no value")
        self._more.append((start, start + len(self._raw[start : line.end].rstrip(BLANKS)), line.stop))

    def settle(self) -> None:
        """Join the lines that continued the last member's value to it."""
        if not self._more:
            return
        old = self.found.members[-1]
        assert old.value is not None
        spans = [(old.value.start, self._end_of(old)), *((start, end) for start, end, _ in self._more)]
        texts = [decode(self._raw[start:end]) for start, end in spans]
        offsets = accumulate((len(text) + 1 for text in texts), initial=0)
        pieces = tuple(Piece(offset, *span) for offset, span in zip(offsets, spans, strict=False))
        value = PlainValue(old.value.start, spans[-1][1], b"", "\n".join(texts))
        stop, last = self._more[-1][2], old.last + len(self._more)
        self.found.members[-1] = replace(old, value=value, stop=stop, last=last, pieces=pieces)
        self._more.clear()

    def _end_of(self, member: Member) -> int:
        """The end of a one-line value, with whatever follows its closing quote."""
        line = self.found.lines[member.last]
        assert member.value is not None
        return member.value.start + len(self._raw[member.value.start : line.end].rstrip(BLANKS))

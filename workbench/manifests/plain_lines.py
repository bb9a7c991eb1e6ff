"""INI and key=value files in which every line stands alone, as most are: no value goes on in the next line.

Such a file is judged in one pass at C speed, and of its lines only those are read that are asked for. What
it takes for well formed is a part of what `key_lines` reads, and Python's configparser reads the same there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import Line, encode, find_lines, line_at, skip_bom
from workbench.manifests.key_lines import Member, Section, read_header_line, read_member_line

_EMPTY = rb"[ \t]*+(?:[#;].*+)?"
_MEMBER = rb"[^ \t\n#;\[=:].*+"
_INDENTED_MEMBER = rb"[ \t]++[\w.-]++[ \t]*+(?:=|:(?!//)).*+"
_HEADER = rb"[ \t]*+\[[^\n\[\]]++\][ \t]*+(?:(?<=[ \t])[#;][^\n\[\]]*+)?"
"""No `]` may come after the name's, in a comment either: configparser goes on to the last one.
(The group at the end is not a possessive one: Python before 3.11.5 fails on those that match nothing.)"""
_PAIR = rb"[ \t]*+[^ \t\n#;=][^=\n]*+=[ \t]*+(?:\"[^\"\n]*+\"|(?!\")).*+"


def _lines_of(*kinds: bytes) -> re.Pattern[bytes]:
    """Of a text without control characters but tabs and line feeds: there a dot is the quickest way on."""
    return late_pattern(rb"(?:(?:%b)\n)*\Z" % b"|".join(kinds))


_INI = _lines_of(_MEMBER, _INDENTED_MEMBER, _HEADER, _EMPTY)
_KEYVALUE = _lines_of(_PAIR, _EMPTY)
_NEXT_HEADER = late_pattern(rb"\n[ \t]*\[")
_CONTROLS = bytes(code for code in (*range(0x20), 0x7F) if code not in b"\t\n")
_BLANK_RUN = b" " * 200
_AS_SPACES = bytes.maketrans(b"\t", b" ")


def open_plain(raw: bytes, *, is_ini: bool) -> PlainLines | None:
    """The file, if each of its lines stands alone and is well formed."""
    head = skip_bom(raw)
    lines = raw if raw.endswith(b"\n") else raw + b"\n"
    lines = lines.replace(b"\r\n", b"\n") if b"\r" in lines else lines
    if len(lines.translate(None, _CONTROLS)) != len(lines):
        return None
    if (_INI if is_ini else _KEYVALUE).match(lines, head) is None:
        return None
    if is_ini and _BLANK_RUN in raw.translate(_AS_SPACES):  # no judge takes these: see `judge_ini`
        return None
    return PlainLines(raw, head, is_ini)


class PlainLines:
    """Reads single lines of a file that `open_plain` found well formed."""

    def __init__(self, raw: bytes, head: int, is_ini: bool) -> None:
        self._raw = raw
        self._head = head
        self._is_ini = is_ini

    def find(self, could_match: Callable[[str], bool]) -> Iterator[Section | Member]:
        """The sections and members, in order, whose lines could match."""
        section, row, seen = "", 0, self._head
        for line in find_lines(self._raw, self._head, could_match):
            row += self._raw.count(b"\n", seen, line.start)
            section = self._last_section(seen, line.start, section)
            seen = line.start
            one = self._read(line, row, section)
            if one is not None:
                yield one

    def members_at(self, path: tuple[str, ...]) -> list[Member]:
        """Every member with that path, in order."""
        if len(path) != (2 if self._is_ini else 1):
            return []
        try:
            key = encode(path[-1])
            blocks = self._blocks(path[0]) if self._is_ini else [(self._head, len(self._raw))]
            return [member for start, stop in blocks for member in self._members_in(start, stop, key, path)]
        except ManifestError:  # it holds half a character, as no file does
            return []

    def _read(self, line: Line, row: int, section: str) -> Section | Member | None:
        first = self._raw[line.start : line.end].lstrip(b" \t")[:1]
        if first in (b"", b"#", b";"):
            return None
        if self._is_ini and first == b"[":
            return read_header_line(self._raw, line, row)
        return read_member_line(self._raw, line, row, section, is_ini=self._is_ini)

    def _last_section(self, start: int, stop: int, section: str) -> str:
        """The section that `stop` lies in; `start`, the start of a line, lies in `section`."""
        if not self._is_ini or start == stop:
            return section
        at = stop
        while (at := self._raw.rfind(b"[", start, at)) >= 0:
            line = self._raw.rfind(b"\n", start, at) + 1 or start
            if not self._raw[line:at].strip(b" \t"):
                one = read_header_line(self._raw, line_at(self._raw, line), 0)
                return section if one is None else one.name
        return section

    def _blocks(self, section: str) -> Iterator[tuple[int, int]]:
        """Where each section of that name starts and stops, its header included."""
        if section == "":
            yield self._head, self._block_stop(self._head - 1)
            return
        header = b"[" + encode(section) + b"]"
        for start in self._line_starts(header, self._head, len(self._raw)):
            one = read_header_line(self._raw, line_at(self._raw, start), 0)
            if one is not None and one.name == section:
                yield start, self._block_stop(start)

    def _block_stop(self, start: int) -> int:
        if start < self._head and self._raw[self._head :].lstrip(b" \t")[:1] == b"[":
            return self._head
        found = _NEXT_HEADER.search(self._raw, max(start, 0))
        return found.start() + 1 if found else len(self._raw)

    def _members_in(self, start: int, stop: int, key: bytes, path: tuple[str, ...]) -> Iterator[Member]:
        row, seen = 0, 0
        for place in self._line_starts(key, start, stop):
            row += self._raw.count(b"\n", seen, place)
            seen = place
            one = self._read(line_at(self._raw, place), row, path[0])
            if isinstance(one, Member) and one.path == path:
                yield one

    def _line_starts(self, content: bytes, start: int, stop: int) -> Iterator[int]:
        """Where lines start that have nothing before `content` but blanks; each line is looked at once.

        An `export` of a key=value file may stand there too; whoever asks reads the line anyway.
        """
        at = self._raw.find(content, start, stop)
        while at >= 0:
            start = self._raw.rfind(b"\n", start, at) + 1 or start
            if self._raw[start:at].strip(b" \t") in (b"", b"export"):
                yield start
            start = self._raw.find(b"\n", at, stop) + 1
            at = self._raw.find(content, start, stop) if start else -1

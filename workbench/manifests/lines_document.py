"""Plain lines: one name or path a line. Every line that holds something is an item, counted from 0.

In extended M3U (RFC 8216, 4.1: `#EXTM3U` first) lines that start with `#` are tags or comments, not items;
`find(None)` still yields them, and the tags right above an item go where it goes. In any other list a `#`
line is an item like the rest: a name may start so.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from functools import cached_property

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import (
    Line,
    byte_length,
    decode,
    encode,
    find_lines,
    newline_of,
    refuse_binary,
    refuse_controls,
    refuse_mixed,
    skip_bom,
    split_lines,
)
from workbench.manifests.document import Edit, Format, Node, Value
from workbench.manifests.positions import BOM, refused
from workbench.manifests.selector import Selector, split_pointer

_TAG = "#comment"
_FEW = 16
"""Lines that are looked up one by one; for more it pays to read them all."""
_TRAILING = b" \t\r"
_EMPTY_LINE = late_pattern(rb"(?:\A|\n)(?:\xef\xbb\xbf)?(?:[ \t\r]*+\n|[ \t\r]++\Z)")
_INDEX = late_pattern(r"0|[1-9][0-9]*")


def open_lines(raw: bytes, path: str = "") -> LinesDocument:
    """Open a list of lines.

    Raises:
        ManifestError: it is no text.
    """
    refuse_binary(raw, path)
    return LinesDocument(raw, path)


class LinesDocument:
    """A list of lines. Data: the items as strings; pointers `/0`, `/1` … (tags: `/#comment/LINE`)."""

    format: Format = "lines"
    _asked = 0

    def __init__(self, raw: bytes, path: str) -> None:
        self.raw = raw
        self._path = path
        self._has_tags = raw.startswith(b"#EXTM3U", skip_bom(raw))

    @cached_property
    def _lines(self) -> list[Line]:
        return split_lines(self.raw)

    @cached_property
    def _is_tag(self) -> list[bool]:
        return [self._has_tags and self.raw[line.start : line.start + 1] == b"#" for line in self._lines]

    @cached_property
    def _items(self) -> list[int]:
        """Row of each item in `_lines`."""
        return [row for row, line in enumerate(self._lines) if not self._is_tag[row] and self._trimmed(line)]

    @cached_property
    def _has_gaps(self) -> bool:
        """Whether there are lines that are no items: then the others have to be counted."""
        if self._has_tags:
            return True
        lines = self.raw.split(b"\n")
        if not lines[-1]:
            lines.pop()
        may_be_empty = not all(map(bytes.strip, lines)) or self.raw.rfind(BOM) >= 0
        return may_be_empty and _EMPTY_LINE.search(self.raw) is not None

    def find(self, at: Selector | None) -> Iterator[Node]:
        if at is None:
            yield from self._all_nodes()
            return
        for index, row in enumerate(self._items):
            bindings = {} if at.source == "/#line" else at.match((str(index),))
            if bindings is not None:
                yield self._node(row, self._lines[row], f"/{index}", bindings)

    def find_matching(self, at: Selector | None, could_match: Callable[[str], bool]) -> Iterator[Node]:
        """What `find` yields, without the lines that could not match; see `opening.find_matching`."""
        if self._has_gaps:
            yield from (node for node in self.find(at) if could_match(node.text))
            return
        row, seen = 0, 0
        for line in find_lines(self.raw, skip_bom(self.raw), could_match):
            row += self.raw.count(b"\n", seen, line.start)
            seen = line.start
            bindings = {} if at is None or at.source == "/#line" else at.match((str(row),))
            if bindings is not None:
                node = self._node(row, line, f"/{row}", bindings)
                if could_match(node.text):
                    yield node

    def get(self, pointer: str) -> Value:
        tokens = split_pointer(pointer)
        if (quick := self._look_up(tokens)) is not None:
            return quick
        if tokens in ((), ("#line",)):
            return [self._text(row) for row in self._items]
        return self._text(self._row(pointer, tokens))

    def _look_up(self, tokens: tuple[str, ...]) -> str | None:
        """The text of a line, without reading them all; for the first few that are asked for."""
        self._asked += 1
        if self._asked > _FEW or len(tokens) != 1 or not _INDEX.fullmatch(tokens[0]) or self._has_gaps:
            return None
        row = int(tokens[0][:10])
        found = self.raw[skip_bom(self.raw) :].split(b"\n", row + 1)
        line = found[row].rstrip(_TRAILING) if row < len(found) else b""
        return decode(line) if line else None

    def line_of(self, pointer: str) -> int:
        tokens = split_pointer(pointer)
        return self._row(pointer, tokens) + 1 if tokens else 1

    def replace_part(self, node: Node, start: int, end: int, text: str) -> Edit | None:
        whole = node.text[:start] + text + node.text[end:]
        self._check(whole, node.line, is_tag=node.pointer.startswith(f"/{_TAG}/"))
        refuse_mixed(self.raw, text, self._path, node.line)
        at = node.start + byte_length(node.text[:start])
        return Edit(at, at + byte_length(node.text[start:end]), encode(text))

    def set(self, pointer: str, value: Value) -> Sequence[Edit]:
        row = self._row(pointer, split_pointer(pointer))
        text = self._item_text(value, row + 1, is_tag=self._is_tag[row])
        line = self._lines[row]
        return (Edit(line.start, line.start + len(self._trimmed(line)), encode(text)),)

    def insert(self, pointer: str, value: Value) -> Sequence[Edit]:
        new = encode(self._item_text(value, None))
        tokens = split_pointer(pointer)
        if tokens in (("-",), (str(len(self._items)),)):
            return (self._append(new),)
        row = self._first_tag(self._row(pointer, tokens))
        at = self._lines[row].start
        return (Edit(at, at, new + newline_of(self.raw)),)

    def delete(self, pointer: str) -> Sequence[Edit]:
        row = self._row(pointer, split_pointer(pointer))
        first = row if self._is_tag[row] else self._first_tag(row)
        start, stop = self._lines[first].start, self._lines[row].stop
        if first and stop == len(self.raw) and not self.raw.endswith(b"\n"):
            start = self._lines[first - 1].end  # the file ends without a line ending, and still will
        return (Edit(start, stop, b""),)

    def rename_key(self, pointer: str, key: str) -> Sequence[Edit]:  # noqa: ARG002 - the protocol's shape
        raise refused(self._path, None, "a list of lines has no keys", "set the line instead")

    def _all_nodes(self) -> Iterator[Node]:
        index = 0
        for row, line in enumerate(self._lines):
            if self._is_tag[row]:
                yield self._node(row, line, f"/{_TAG}/{row + 1}", {})
            elif self._trimmed(line):
                yield self._node(row, line, f"/{index}", {})
                index += 1

    def _node(self, row: int, line: Line, pointer: str, bindings: dict[str, str]) -> Node:
        end = line.start + len(self._trimmed(line))
        return Node(pointer, "line", decode(self.raw[line.start : end]), line.start, end, row + 1, bindings)

    def _trimmed(self, line: Line) -> bytes:
        # Blanks at the end are nobody's name (FAT drops them); at the start they may be.
        return self.raw[line.start : line.end].rstrip(_TRAILING)

    def _text(self, row: int) -> str:
        return decode(self._trimmed(self._lines[row]))

    def _row(self, pointer: str, tokens: tuple[str, ...]) -> int:
        if len(tokens) == 2 and tokens[0] == _TAG and _INDEX.fullmatch(tokens[1]):
            row = int(tokens[1]) - 1
            if 0 <= row < len(self._lines) and self._is_tag[row]:
                return row
        elif len(tokens) == 1 and _INDEX.fullmatch(tokens[0]) and int(tokens[0]) < len(self._items):
            return self._items[int(tokens[0])]
        raise self._no_place(pointer)

    def _no_place(self, pointer: str) -> ManifestError:
        problem = f"there is no line {pointer!r}; it holds {len(self._items)} (/0 is the first)"
        return refused(self._path, None, problem, "choose one of these")

    def _first_tag(self, row: int) -> int:
        """The first of the tags that stand right above an item; the list's own header is not its."""
        while row > 1 and self._is_tag[row - 1]:
            row -= 1
        return row

    def _append(self, new: bytes) -> Edit:
        newline, at = newline_of(self.raw), len(self.raw)
        is_open = at > skip_bom(self.raw) and not self.raw.endswith(b"\n")
        return Edit(at, at, newline + new if is_open else new + newline)

    def _item_text(self, value: Value, line: int | None, *, is_tag: bool = False) -> str:
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise refused(self._path, line, "a line holds a text, nothing else", "give a text")
        text = str(value)
        self._check(text, line, is_tag=is_tag)
        refuse_mixed(self.raw, text, self._path, line)
        return text

    def _check(self, text: str, line: int | None, *, is_tag: bool) -> None:
        refuse_controls(text, self._path, line, "a line")
        if not text.strip(" \t") or text != text.rstrip(" \t"):
            raise refused(self._path, line, "a line cannot be empty or end in a blank", "choose another text")
        if self._has_tags and text.startswith("#") != is_tag:
            problem = "in this list a line that starts with '#' is a tag, and only that"
            raise refused(self._path, line, problem, "choose a text of the line's own kind")

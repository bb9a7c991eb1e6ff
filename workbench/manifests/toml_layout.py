"""The lines of a TOML document: which statement, with which comments above it, ends where.

Comments right above a statement are its own; those that open the file are the file's.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cached_property

from workbench.manifests.byte_lines import newline_of
from workbench.manifests.document import Edit
from workbench.manifests.toml_scan import Entry, Header, Pair, Path, Statement, entries_below


class Layout:
    """A scanned document with its statements' lines."""

    def __init__(self, raw: bytes, statements: list[Statement]) -> None:
        self.raw = raw
        self.statements = statements
        self.newline = newline_of(raw)
        self.headers = [one for one in statements if isinstance(one, Header)]
        self.pairs = [one for one in statements if isinstance(one, Pair)]

    @cached_property
    def entries(self) -> dict[Path, Entry]:
        """Every value that is written as one, by its path."""
        return {entry.path: entry for pair in self.pairs for entry in entries_below(pair.entry)}

    def own_start(self, index: int) -> int:
        """Where a statement starts with its comment lines (`len(statements)`: where the document ends)."""
        if index == len(self.statements):
            return len(self.raw)
        start = self.statements[index].start
        least = self.statements[index - 1].stop if index else 0
        while start > least:
            above = self.raw.rfind(b"\n", 0, start - 1) + 1
            if above < least or self.raw[above:start].lstrip(b" \t")[:1] != b"#":
                break
            start = above
        return self.statements[index].start if start == 0 else start

    def own_stop(self, index: int) -> int:
        """Where a statement ends, line ending included."""
        return self.statements[index].stop

    def enclosing(self, path: Path) -> Entry | None:
        """The nearest array or inline table that a place lies in, None where there is none."""
        places = (path[:size] for size in range(len(path) - 1, 0, -1))
        return next((self.entries[place] for place in places if place in self.entries), None)

    def table_of(self, path: Path) -> int | None:
        """The statement that opens this table, None where none does."""
        for index, one in enumerate(self.statements):
            if isinstance(one, Header) and one.path == path:
                return index
        return None

    def under(self, path: Path) -> Iterator[int]:
        """Statements that belong to what is at a path: headers at or below it, and all pairs under them."""
        size = len(path)
        for index, one in enumerate(self.statements):
            place = one.path if isinstance(one, Header) else one.entry.path
            table = place if isinstance(one, Header) else one.table
            if place[:size] == path or table[:size] == path:
                yield index

    def last_pair(self, table: Path) -> Pair | None:
        """The last pair that stands right under a header (`()`: before the first header)."""
        found = [pair for pair in self.pairs if pair.table == table]
        return found[-1] if found else None

    def region_stop(self, path: Path) -> int:
        """Index after the last statement under a path."""
        return max(self.under(path)) + 1

    def has_gaps(self) -> bool:
        """Whether headers have an empty line above them (where there is no second one to tell: yes)."""
        rows = [index for index, one in enumerate(self.statements) if isinstance(one, Header) and index]
        return not rows or any(self.is_gap_above(self.own_start(index)) for index in rows)

    def is_gap_above(self, at: int) -> bool:
        """Whether an empty line stands right above a line's start."""
        return self.raw[:at].endswith((b"\n\n", b"\n\r\n")) or self.raw[:at].strip(b"\r\n") == b""

    def add_lines(self, at: int, lines: bytes) -> Edit:
        """Put whole lines in; where the document's last line is open, they close it and stay open."""
        is_open = at == len(self.raw) and at > 0 and not self.raw.endswith(b"\n")
        return Edit(at, at, self.newline + lines if is_open else lines + self.newline)

    def add_block(self, index: int, lines: bytes) -> Edit:
        """Put a table in before a statement, with an empty line between where that is usual."""
        at = self.own_start(index)
        is_gapped = self.has_gaps()
        if index == len(self.statements):
            return self.add_lines(
                at, self.newline + lines if is_gapped and not self.is_gap_above(at) else lines
            )
        return Edit(at, at, lines + self.newline * (2 if is_gapped else 1))

    def indentation(self, start: int) -> bytes:
        """The blanks that a line starts with."""
        line = self.raw[start:]
        return line[: len(line) - len(line.lstrip(b" \t"))]

"""A manifest's data as lines of a tree, each with the pointer that leads to it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from workbench.manifests.selector import join_pointer
from workbench.tui.lines import Line
from workbench.values import dataclass

MOST_ROWS = 20_000


@dataclass(frozen=True, slots=True)
class TreeRow:
    """One place of a document."""

    pointer: str
    depth: int
    key: str
    """Empty for the document itself."""
    value: Any

    @property
    def is_group(self) -> bool:
        """Whether it holds members."""
        return isinstance(self.value, dict | list)

    @property
    def line(self) -> Line:
        """`  says = "Boats"`."""
        indent = "  " * self.depth
        if self.is_group:
            count = len(self.value)
            word = "member" if isinstance(self.value, dict) else "item"
            said = f"{count} {word}{'' if count == 1 else 's'}"
            return Line.of(indent, (self.key or "the whole", "key"), (f"  ({said})", "muted"))
        return Line.of(indent, (self.key or "the whole", "key"), (" = ", "muted"), value_text(self.value))


def value_text(value: Any) -> str:
    """A value as a person types it: JSON for what JSON knows, its plain text otherwise."""
    import json

    try:
        return json.dumps(value, ensure_ascii=False)
    except (TypeError, ValueError):
        return str(value)


def tree_rows(data: Any) -> list[TreeRow]:
    """Every place of the data, parents before members; the first `MOST_ROWS` of them."""
    rows: list[TreeRow] = []
    waiting: list[tuple[tuple[str, ...], Any]] = [((), data)]
    while waiting and len(rows) < MOST_ROWS:
        path, value = waiting.pop()
        rows.append(TreeRow(join_pointer(path), len(path), path[-1] if path else "", value))
        waiting += reversed([((*path, key), member) for key, member in _members(value)])
    return rows


def _members(value: Any) -> Iterator[tuple[str, Any]]:
    if isinstance(value, dict):
        yield from ((str(key), member) for key, member in value.items())
    elif isinstance(value, list):
        yield from ((str(number), member) for number, member in enumerate(value))


def text_lines(raw: bytes, problem_line: int | None = None) -> list[Line]:
    """The bytes as numbered lines; the line with the error is marked."""
    texts = raw.decode("utf-8", "surrogateescape").splitlines()
    width = len(str(max(1, len(texts))))
    return [_text_line(number, text, width, number == problem_line) for number, text in enumerate(texts, 1)]


def _text_line(number: int, text: str, width: int, has_problem: bool) -> Line:
    mark = ("! ", "problem") if has_problem else ("  ", "muted")
    return Line.of(mark, (f"{number:>{width}}  ", "muted"), text.replace("\t", "    "))  # type: ignore[arg-type]


def row_at_line(lines: Sequence[int], line: int) -> int:
    """The last row that starts at or before a line (rows in document order)."""
    found = 0
    for index, start in enumerate(lines):
        if start <= line:
            found = index
    return found

"""Edits of TOML by pointer. Tables move as spans of lines, with the comments above them."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from workbench.manifests.document import Edit, Value
from workbench.manifests.toml_layout import Layout
from workbench.manifests.toml_scan import Entry, Pair, Path
from workbench.manifests.toml_text import write_key, write_value

Refuse = Callable[[str, str], Exception]
"""Makes the error for a problem and an advice."""


def set_value(layout: Layout, path: Path, value: Value, refuse: Refuse) -> list[Edit]:
    """Write a value in place of another."""
    entry = layout.entries.get(path)
    if entry is None:
        raise refuse("a table is not set as a whole: its comments would be lost", "set its keys one by one")
    if entry.has_comments:
        raise refuse("comments stand in this value and would be lost", "set its members one by one")
    return [Edit(entry.start, entry.end, write_value(value, layout.raw[entry.start : entry.end]))]


def insert_key(layout: Layout, path: Path, value: Value, siblings: Mapping[str, Value]) -> list[Edit]:
    """Add a member to a table of whatever form."""
    parent = path[:-1]
    if (inline := layout.enclosing(path)) is not None:
        return [_add_to_inline(layout, inline, path[len(inline.path) :], value)]
    if isinstance(value, dict) and _has_headers(layout, parent, siblings):
        last = max(
            layout.region_stop((*parent, key)) for key in siblings if _is_headed(layout, (*parent, key))
        )
        return [layout.add_block(last, _block(layout, path, value, is_list=False))]
    dotted = [
        pair for pair in layout.pairs if pair.entry.path[: len(parent)] == parent and pair.table != parent
    ]
    dotted = [pair for pair in dotted if len(pair.table) < len(parent)]
    if parent and layout.table_of(parent) is None and dotted:
        return [_add_pair(layout, dotted[-1], path, value)]
    if parent and layout.table_of(parent) is None:
        first = min(layout.under(parent))
        return [layout.add_block(first, _block(layout, parent, {path[-1]: value}, is_list=False))]
    return [_add_first_or_next(layout, path, value)]


def _add_first_or_next(layout: Layout, path: Path, value: Value) -> Edit:
    """Add a pair under a header that is there (or at the top)."""
    parent = path[:-1]
    if last := layout.last_pair(parent):
        return _add_pair(layout, last, path, value)
    line = _pair(path[-1:], value)
    index = layout.table_of(parent)
    if index is not None:
        indent = layout.indentation(layout.statements[index].start)
        return layout.add_lines(layout.statements[index].stop, indent + line)
    return layout.add_block(0, line) if layout.statements else layout.add_lines(len(layout.raw), line)


def _add_pair(layout: Layout, like: Pair, path: Path, value: Value) -> Edit:
    """Add a pair after another, spaced and quoted like it."""
    raw, entry = layout.raw, like.entry
    equals = raw[entry.keys[-1].end : entry.start]
    old = raw[entry.start : entry.end] if entry.kind == "string" else b""
    line = layout.indentation(like.start) + _pair(path[len(like.table) :], value, equals, old)
    return layout.add_lines(like.stop, line)


def _pair(keys: Path, value: Value, equals: bytes = b" = ", like: bytes = b"") -> bytes:
    return b".".join(map(write_key, keys)) + equals + write_value(value, like)


def _is_headed(layout: Layout, path: Path) -> bool:
    return any(header.path[: len(path)] == path for header in layout.headers)


def _has_headers(layout: Layout, parent: Path, siblings: Mapping[str, Value]) -> bool:
    """Whether the tables beside a new one have headers of their own."""
    return any(_is_headed(layout, (*parent, key)) for key in siblings)


def _block(layout: Layout, path: Path, value: Mapping[str, Value], *, is_list: bool) -> bytes:
    """A table with its header."""
    names = _names(layout, path[:-1] if is_list else path)
    opening, closing = (b"[[", b"]]") if is_list else (b"[", b"]")
    lines = [opening + b".".join(map(write_key, names)) + closing]
    lines += [_pair((key,), item) for key, item in value.items()]
    return layout.newline.join(lines)


def _names(layout: Layout, path: Path) -> Path:
    """A path as a header writes it: without the indexes of arrays of tables."""
    lists = {header.path[:-1] for header in layout.headers if header.is_list}
    return tuple(token for index, token in enumerate(path) if path[:index] not in lists)


def _add_to_inline(layout: Layout, parent: Entry, keys: Path, value: Value) -> Edit:
    if parent.children:
        last = parent.children[-1]
        equals = layout.raw[last.keys[-1].end : last.start]
        return Edit(last.end, last.end, b", " + _pair(keys, value, equals))
    return Edit(parent.start, parent.end, b"{ " + _pair(keys, value) + b" }")


def insert_item(layout: Layout, path: Path, value: Value, count: int, refuse: Refuse) -> list[Edit]:
    """Add an item to an array, or a table to an array of tables."""
    parent = path[:-1]
    index = count if path[-1] == "-" else int(path[-1])
    if parent in layout.entries:
        return _add_to_array(layout, layout.entries[parent], index, value)
    if not isinstance(value, dict):
        raise refuse("an array of tables holds tables only", "give a table")
    at = (
        layout.table_of((*parent, str(index)))
        if index < count
        else layout.region_stop((*parent, str(count - 1)))
    )
    assert at is not None
    return [layout.add_block(at, _block(layout, (*parent, str(index)), value, is_list=True))]


def _add_to_array(layout: Layout, array: Entry, index: int, value: Value) -> list[Edit]:
    raw, children = layout.raw, array.children
    like = children[min(index, len(children) - 1)] if children else None
    new = write_value(value, raw[like.start : like.end] if like and like.kind == "string" else b"")
    if like is None:
        inner = raw[array.start + 1 : array.end - 1]
        if inner.strip():  # comments only
            return [Edit(array.end - 1, array.end - 1, layout.newline + new + layout.newline)]
        return [Edit(array.start + 1, array.end - 1, new)]
    if not _is_spread(layout, array):
        if index < len(children):
            return [Edit(like.start, like.start, new + b", ")]
        return [Edit(like.end, like.end, b", " + new)]
    line = layout.indentation(_line_start(raw, like.start)) + new
    if index < len(children):
        at = _item_start(layout, array, index)
        return [Edit(at, at, line + b"," + layout.newline)]
    return _append_line(layout, array, like, line)


def _append_line(layout: Layout, array: Entry, last: Entry, line: bytes) -> list[Edit]:
    """A new last line; the comma after the item before it, and the habit of a trailing one, are kept."""
    comma = _comma_after(layout.raw, last.end)
    at = _line_end(layout.raw, last.end if comma is None else comma + 1)
    if at > array.end:  # the bracket closes on the last item's line
        at = last.end if comma is None else comma + 1
    if comma is None:
        edits = [Edit(last.end, last.end, b","), Edit(at, at, layout.newline + line)]
        return edits if at != last.end else [Edit(at, at, b"," + layout.newline + line)]
    return [Edit(at, at, layout.newline + line + b",")]


def _is_spread(layout: Layout, array: Entry) -> bool:
    """Whether each item of an array starts a line of its own."""
    raw = layout.raw
    return all(not raw[_line_start(raw, item.first) : item.first].strip() for item in array.children)


def _line_start(raw: bytes, at: int) -> int:
    return raw.rfind(b"\n", 0, at) + 1


def _line_end(raw: bytes, at: int) -> int:
    """The line ending at or after an offset."""
    end = raw.find(b"\n", at)
    return len(raw) if end < 0 else end - (raw[end - 1] == 0x0D)


def _comma_after(raw: bytes, at: int) -> int | None:
    """The comma after an item, past blanks and comments."""
    while at < len(raw):
        mark = raw[at : at + 1]
        if mark == b"#":
            at = _line_end(raw, at)
        elif mark not in (b" ", b"\t", b"\r", b"\n"):
            return at if mark == b"," else None
        else:
            at += 1
    return None


def _item_start(layout: Layout, array: Entry, index: int) -> int:
    """Where an item's lines start, its comment lines included."""
    raw = layout.raw
    start = _line_start(raw, array.children[index].first)
    least = _line_end(raw, array.children[index - 1].end if index else array.start)
    while start - 1 > least:
        above = _line_start(raw, start - 1)
        if above <= least or raw[above:start].lstrip(b" \t")[:1] != b"#":
            break
        start = above
    return start


def delete_value(layout: Layout, path: Path) -> list[Edit]:
    """Take out a pair, an item, or a table with everything under it."""
    parent = layout.enclosing(path)
    if parent is not None:
        return _without_children(layout, parent, path)
    spans = [(layout.own_start(index), layout.own_stop(index)) for index in layout.under(path)]
    return _without_lines(layout, _joined(layout, spans))


def _joined(layout: Layout, spans: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Spans of lines, with the blank lines below a table that goes, and neighbours made one."""
    starts = {one.start for one in layout.headers}
    grown: list[tuple[int, int]] = []
    for start, stop in spans:
        if grown and not layout.raw[grown[-1][1] : start].strip():
            grown[-1] = (grown[-1][0], stop)
        else:
            grown.append((start, stop))
    return [
        _with_gap(layout, start, stop) if _holds(starts, start, stop) else (start, stop)
        for start, stop in grown
    ]


def _holds(starts: set[int], start: int, stop: int) -> bool:
    return any(start <= one < stop for one in starts)


def _with_gap(layout: Layout, start: int, stop: int) -> tuple[int, int]:
    """A table's lines and the empty lines after it; at the document's end, those before it."""
    rest = layout.raw[stop:]
    gap = len(rest) - len(rest.lstrip(b" \t\r\n"))
    if gap < len(rest):
        below = layout.raw.rfind(b"\n", 0, stop + gap) + 1
        return start, max(stop, below)
    kept = layout.raw[:start].rstrip(b" \t\r\n")
    newline = layout.raw.find(b"\n", len(kept)) + 1
    return (newline if kept else start), stop


def _without_lines(layout: Layout, spans: list[tuple[int, int]]) -> list[Edit]:
    edits = [Edit(start, stop, b"") for start, stop in spans]
    last = edits[-1]
    if last.end == len(layout.raw) and not layout.raw.endswith(b"\n") and last.start:
        kept = layout.raw[: last.start].removesuffix(b"\n").removesuffix(b"\r")
        edits[-1] = Edit(len(kept), last.end, b"")  # no line ending at the end before, none after
    return edits


def _without_children(layout: Layout, parent: Entry, path: Path) -> list[Edit]:
    """Take an item out, or every member whose dotted key leads there."""
    rows = [row for row, child in enumerate(parent.children) if child.path[: len(path)] == path]
    first, last = rows[0], rows[-1]
    if len(rows) != last - first + 1:
        return []  # others stand between them: the caller sees that nothing came of it
    raw, children = layout.raw, parent.children
    comma = _comma_after(raw, children[last].end)
    end = children[last].end if comma is None else comma + 1
    if parent.kind == "array" and len(children) > 1 and _is_spread(layout, parent):
        line_end = _line_end(raw, end)
        if line_end < parent.end:
            return [Edit(_item_start(layout, parent, first), raw.index(b"\n", line_end) + 1, b"")]
    if last + 1 < len(children):
        return [Edit(children[first].first, children[last + 1].first, b"")]
    if first:
        return [Edit(children[first - 1].end, children[last].end, b"")]
    return [Edit(children[first].first, end, b"")]


def rename_key(layout: Layout, path: Path, key: str) -> list[Edit]:
    """Write another key wherever this one is written."""
    keys = [one for header in layout.headers for one in header.keys]
    keys += [one for pair in layout.pairs for one in pair.entry.keys]
    keys += [one for entry in layout.entries.values() for one in entry.keys]
    spans = {(one.start, one.end) for one in keys if one.path == path}
    return [Edit(start, end, write_key(key, layout.raw[start:end])) for start, end in sorted(spans)]

"""Text with marks: what a manifest says, and on which line it names what. Writers for each format.

The lines are counted while the text is put down, by this code alone, so that the expected references owe
nothing to the workbench.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

Group = str
"""`key` (a key or section), `text` (a value, path, word, line, attribute), `file` (a file's own name)."""


@dataclass(frozen=True, eq=False)
class Marked:
    """A text that names things."""

    text: str
    things: tuple[Any, ...]
    """Those that are named; each is one reference at this place."""


Data = Any
"""dict (keys str or Marked), list, Marked, str, int, bool."""


@dataclass
class Sheet:
    """A text file in the making."""

    parts: list[str] = field(default_factory=list)
    line: int = 1
    marks: list[tuple[Any, int, Group]] = field(default_factory=list)
    takes_bom: bool = True
    """Whether its format may begin with a byte order mark: TOML 1.0 and scripts may not."""

    def put(self, text: str) -> Sheet:
        self.parts.append(text)
        self.line += text.count("\n")
        return self

    def mark(self, value: Data, group: Group) -> None:
        if isinstance(value, Marked):
            self.marks += [(thing, self.line, group) for thing in value.things]

    @property
    def text(self) -> str:
        return "".join(self.parts)


def plain(value: Data) -> str:
    """The text of a scalar."""
    if isinstance(value, bool):
        return "true" if value else "false"
    return value.text if isinstance(value, Marked) else str(value)


def write_json(data: Data, indent: str, escape: str) -> Sheet:
    """JSON (RFC 8259); `indent` empty puts all on one line; `escape`: `slash`, `ascii` or nothing."""
    sheet = Sheet()
    _json(sheet, data, indent, escape, 0)
    return sheet.put("\n")


def _json(sheet: Sheet, data: Data, indent: str, escape: str, depth: int) -> None:
    if isinstance(data, Mapping):
        _json_all(sheet, "{}", list(data.items()), indent, escape, depth)
    elif isinstance(data, list):
        _json_all(sheet, "[]", [(None, one) for one in data], indent, escape, depth)
    else:
        sheet.mark(data, "text")
        is_text = isinstance(data, str | Marked)
        sheet.put(_json_text(plain(data), escape) if is_text else plain(data))


def _json_all(sheet: Sheet, brackets: str, items: list[Any], indent: str, escape: str, depth: int) -> None:
    sheet.put(brackets[0])
    for number, (key, value) in enumerate(items):
        sheet.put(("," if number else "") + ("\n" + indent * (depth + 1) if indent else ""))
        if key is not None:
            sheet.mark(key, "key")
            sheet.put(_json_text(plain(key), escape) + (": " if indent else ":"))
        _json(sheet, value, indent, escape, depth + 1)
    sheet.put(("\n" + indent * depth if indent and items else "") + brackets[1])


def _json_text(text: str, escape: str) -> str:
    written = json.dumps(text, ensure_ascii=escape == "ascii")
    return written.replace("/", "\\/") if escape == "slash" else written


def write_toml(data: Mapping[Any, Data], comment: str) -> Sheet:
    """TOML 1.0 with tables and arrays of tables."""
    sheet = Sheet(takes_bom=False)
    sheet.put(f"# {comment}\n")
    _toml(sheet, data, [])
    return sheet


def _toml(sheet: Sheet, table: Mapping[Any, Data], path: list[Any]) -> None:
    tables = {key: value for key, value in table.items() if _is_table(value)}
    for key, value in table.items():
        if key not in tables:
            sheet.mark(key, "key")
            sheet.put(_toml_key(key) + " = ")
            _toml_value(sheet, value)
            sheet.put("\n")
    for key, value in tables.items():
        for one in value if isinstance(value, list) else [value]:
            sheet.put("\n" if sheet.line > 1 else "")
            _toml_header(sheet, [*path, key], is_row=isinstance(value, list))
            _toml(sheet, one, [*path, key])


def _is_table(value: Data) -> bool:
    rows = isinstance(value, list) and bool(value) and isinstance(value[0], Mapping)
    return isinstance(value, Mapping) or rows


def _toml_header(sheet: Sheet, path: list[Any], *, is_row: bool) -> None:
    """A header spells out every table above it, so what names something is named again in each."""
    for key in path:
        sheet.mark(key, "key")
    dotted = ".".join(map(_toml_key, path))
    sheet.put(f"[[{dotted}]]\n" if is_row else f"[{dotted}]\n")


def _toml_key(key: Data) -> str:
    text = plain(key)
    is_bare = text.isascii() and text.replace("-", "").replace("_", "").isalnum()
    return text if is_bare else json.dumps(text, ensure_ascii=False)


def _toml_value(sheet: Sheet, value: Data) -> None:
    if isinstance(value, list):
        sheet.put("[")
        for number, one in enumerate(value):
            sheet.put(", " if number else "")
            _toml_value(sheet, one)
        sheet.put("]")
        return
    sheet.mark(value, "text")
    text = plain(value)
    if not isinstance(value, str | Marked):
        sheet.put(text)
    else:
        sheet.put(f"'{text}'" if "'" not in text and "/" in text else json.dumps(text, ensure_ascii=False))


def write_ini(sections: Mapping[Any, Mapping[Any, Data]], equals: str, comment: str) -> Sheet:
    """Sections of `key=value`, as most readers of such files take them (no published standard)."""
    sheet = Sheet()
    sheet.put(f"; {comment}\n")
    for section, keys in sections.items():
        sheet.mark(section, "key")
        sheet.put(f"[{plain(section)}]\n")
        for key, value in keys.items():
            sheet.mark(key, "key")
            sheet.mark(value, "text")
            sheet.put(f"{plain(key)}{equals}{plain(value)}\n")
        sheet.put("\n")
    return sheet


def write_keyvalue(keys: Mapping[Any, Data], equals: str, comment: str) -> Sheet:
    """One `key=value` a line."""
    sheet = Sheet()
    sheet.put(f"# {comment}\n")
    for key, value in keys.items():
        sheet.mark(value, "text")
        sheet.put(f"{plain(key)}{equals}{plain(value)}\n")
    return sheet


def write_lines(lines: Iterable[Data]) -> Sheet:
    """One text a line."""
    sheet = Sheet()
    for line in lines:
        sheet.mark(line, "text")
        sheet.put(plain(line) + "\n")
    return sheet


@dataclass
class Element:
    """An element of XML 1.0; a child is an element, and `text` is its whole text."""

    name: str
    attributes: dict[str, Data] = field(default_factory=dict)
    children: list[Element] = field(default_factory=list)
    text: Data = None


def write_xml(root: Element, comment: str) -> Sheet:
    """XML 1.0 in UTF-8, indented by two spaces."""
    sheet = Sheet()
    sheet.put(f'<?xml version="1.0" encoding="UTF-8"?>\n<!-- {comment.replace("--", "-")} -->\n')
    _element(sheet, root, 0)
    return sheet


def _element(sheet: Sheet, one: Element, depth: int) -> None:
    sheet.put("  " * depth + f"<{one.name}")
    for name, value in one.attributes.items():
        sheet.put(f" {name}=")
        sheet.mark(value, "text")
        sheet.put('"' + _escaped(plain(value)).replace('"', "&quot;") + '"')
    if not one.children and one.text is None:
        sheet.put("/>\n")
        return
    sheet.put(">")
    if one.text is not None:
        sheet.mark(one.text, "text")
        sheet.put(_escaped(plain(one.text)))
    else:
        sheet.put("\n")
        for child in one.children:
            _element(sheet, child, depth + 1)
        sheet.put("  " * depth)
    sheet.put(f"</{one.name}>\n")


def _escaped(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;")


def quoted(text: str, style: str) -> str:
    """A word of a POSIX shell (XCU 2.2): bare with backslashes, or in single or double quotes."""
    if style == "single" and "'" not in text:
        return f"'{text}'"
    if style == "bare" and text.isascii():
        return "".join(char if char.isalnum() or char in "/._-$,+%" else "\\" + char for char in text)
    return '"' + text.replace("\\", "\\\\").replace('"', '\\"').replace("`", "\\`") + '"'

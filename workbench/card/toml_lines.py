"""Finds the lines of keys in TOML text that is known to be well formed, for messages that name them.

tomllib gives data without places; this is a scan for headers and keys (TOML 1.0), nothing more: values
are stepped over by asking tomllib whether they are whole yet.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from workbench.late_pattern import late_pattern
from workbench.manifests.toml_reader import read_toml

KeyPath = tuple[str | int, ...]

_PART = late_pattern(r"""\s*(?:"((?:[^"\\]|\\.)*)"|'([^']*)'|([A-Za-z0-9_-]+))\s*""")


def find_key_lines(text: str) -> dict[KeyPath, int]:
    """Each key path that is written out, arrays of tables by index, with its 1-based line."""
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    for number, statement in _split_statements(text):
        if statement.startswith("["):
            is_array = statement.startswith("[[")
            parts, _ = _read_key(statement[2 if is_array else 1 :])
            table = _enter(parts, counts, is_array)
            lines[table] = number
            for length in range(1, len(table)):
                lines.setdefault(table[:length], number)
        else:
            parts, _ = _read_key(statement)
            for length in range(1, len(parts) + 1):
                lines.setdefault(table + parts[:length], number)
    return lines


def line_of_key(lines: Mapping[KeyPath, int], path: KeyPath) -> int | None:
    """The line of a key, or of the nearest thing written out that holds it."""
    for length in range(len(path), 0, -1):
        if path[:length] in lines:
            return lines[path[:length]]
    return None


def _enter(parts: tuple[str, ...], counts: dict[KeyPath, int], is_array: bool) -> KeyPath:
    """The path of the table that a header opens: the newest element of each array on the way."""
    path: KeyPath = ()
    for index, part in enumerate(parts):
        path += (part,)
        if is_array and index == len(parts) - 1:
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path += (counts[path],)
    return path


def _split_statements(text: str) -> Iterator[tuple[int, str]]:
    """Each header or `key = value`, several lines as one, with its first line's number."""
    waiting, start = "", 0
    for number, line in enumerate(text.splitlines(), 1):
        if not waiting:
            if not line.strip() or line.lstrip().startswith("#"):
                continue
            start = number
        waiting += line + "\n"
        if waiting.lstrip().startswith("[") or _is_whole(waiting):
            yield start, waiting.strip()
            waiting = ""


def _is_whole(statement: str) -> bool:
    try:
        read_toml(statement)
    except ValueError:
        return False
    return True


def _read_key(text: str) -> tuple[tuple[str, ...], int]:
    """A dotted key at the start of the text, and where it ends."""
    parts: list[str] = []
    at = 0
    while found := _PART.match(text, at):
        double, single, bare = found.groups()
        parts.append(_unescape(double) if double is not None else single if single is not None else bare)
        at = found.end()
        if not text.startswith(".", at):
            break
        at += 1
    return tuple(parts), at


def _unescape(text: str) -> str:
    return str(next(iter(read_toml(f'"{text}" = 0'))))

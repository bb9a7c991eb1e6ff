"""Reads `VOLUME:PATH` patterns and plain paths of a profile. Nothing that could lead out of a volume gets by:
no `..`, no absolute or host path, no backslash, and never the ledger's folder.
"""

from __future__ import annotations

from collections.abc import Collection

from workbench.card.paths import LEDGER_FOLDER
from workbench.card.profile import FilePattern
from workbench.card.profile_table import Table, closest
from workbench.late_pattern import late_pattern

_PLACEHOLDER = late_pattern(r"\{([^{}]*)\}")


def read_pattern(
    table: Table,
    key: str,
    volumes: Collection[str],
    placeholders: tuple[str, ...],
    *,
    needs: tuple[str, ...] = (),
) -> FilePattern:
    """The pattern at a key; with `needs`, one of these placeholders has to be in it."""
    return parse_pattern(table, key, table.text(key), volumes, placeholders, needs=needs)


def read_patterns(
    table: Table,
    key: str,
    volumes: Collection[str],
    placeholders: tuple[str, ...],
    *,
    needs: tuple[str, ...] = (),
) -> tuple[FilePattern, ...]:
    """The list of patterns at a key; none where it is missing."""
    texts = table.texts(key, ())
    return tuple(parse_pattern(table, key, text, volumes, placeholders, needs=needs) for text in texts)


def parse_pattern(
    table: Table,
    key: str,
    text: str,
    volumes: Collection[str],
    placeholders: tuple[str, ...],
    *,
    needs: tuple[str, ...] = (),
) -> FilePattern:
    """A pattern of the profile, checked."""
    volume, colon, path = text.partition(":")
    if not colon or "/" in volume:
        table.refuse(key, f"is {text!r}", "VOLUME:PATH is allowed, the path without a leading '/'")
    if volume not in volumes:
        known = ", ".join(volumes)
        table.refuse(
            key,
            f"names the volume {volume!r}",
            f"the profile declares {known}",
            closest(volume, tuple(volumes)),
        )
    found = check_placeholders(table, key, path, placeholders)
    if needs and not found & set(needs):
        table.refuse(key, f"is {text!r}", f"it has to hold {_join(needs, ' or ')}")
    return FilePattern(volume, check_path(table, key, path))


def check_path(table: Table, key: str, path: str) -> str:
    """A relative path of a profile, without its trailing slash."""
    plain = path.rstrip("/")
    fault = _find_fault(path, plain)
    if fault is not None:
        table.refuse(key, f"is {path!r}", fault)
    return plain


def check_placeholders(table: Table, key: str, text: str, allowed: tuple[str, ...]) -> set[str]:
    """The placeholders in a text, all of them known."""
    found = set(_PLACEHOLDER.findall(text))
    for name in sorted(found.difference(allowed)):
        near = closest(name, allowed)
        table.refuse(
            key,
            f"holds {{{name}}}",
            f"placeholders allowed there: {_join(allowed, ', ')}",
            near and f"{{{near}}}",
        )
    return found


def _join(placeholders: tuple[str, ...], between: str) -> str:
    return between.join(f"{{{name}}}" for name in placeholders) or "none"


def _find_fault(path: str, plain: str) -> str | None:
    is_drive = path[1:2] == ":" and path[0].isascii() and path[0].isalpha()
    if path.startswith(("/", "~")) or is_drive:
        return "a path below the volume's root is allowed, never one of this computer"
    if "\\" in path or "\0" in path:
        return "parts of a path are separated by '/'"
    parts = plain.split("/") if plain else []
    if ".." in parts:
        return "'..' is refused: a profile never leads out of its volume"
    if "" in parts or "." in parts:
        return "empty parts and '.' are not allowed"
    if parts and parts[0] == LEDGER_FOLDER:
        return "that folder holds the record of changes and is never touched by a profile"
    return None

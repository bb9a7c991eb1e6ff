"""The list that a pack made here carries: what it is, whose it is, its files with their SHA-256, its entries.

A list is written the same for the same content: sorted, one line a file, no date.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any

from workbench.errors import CardwrightError
from workbench.values import dataclass

PACK_LIST = "cardwright-pack.json"
SCHEMA = 1
LIST_BYTES = 16 * 1024 * 1024
"""A longer list is none."""


@dataclass(frozen=True, slots=True)
class PackedEntry:
    """An entry of a menu that the pack brings."""

    at: str
    """`VOLUME:PATH`."""
    label: str | None
    """What the device showed for it; None where that was its name."""


@dataclass(frozen=True, slots=True)
class PackList:
    """What a pack says of itself."""

    name: str
    version: str
    author: str
    licence: str
    profile: str
    """Name of the profile of the card that it was made from."""
    files: Mapping[str, str]
    """SHA-256 (hex) by path in the pack."""
    entries: tuple[PackedEntry, ...] = ()


def write_pack_list(pack: PackList) -> bytes:
    """The list as JSON, the same bytes for the same content."""
    found = {
        "schema": SCHEMA,
        "name": pack.name,
        "version": pack.version,
        "author": pack.author,
        "licence": pack.licence,
        "profile": pack.profile,
        "entries": [{"at": entry.at, "label": entry.label} for entry in pack.entries],
        "files": dict(sorted(pack.files.items())),
    }
    return json.dumps(found, indent=1, ensure_ascii=False).encode("utf-8", "surrogateescape") + b"\n"


def read_pack_list(raw: bytes, name: str) -> PackList:
    """What `write_pack_list` wrote.

    Raises:
        CardwrightError: it is damaged, or of a later version.
    """
    try:
        found: dict[str, Any] = json.loads(raw)
        if found["schema"] != SCHEMA:
            raise CardwrightError(
                f"{name} was made by a later version (its list is of schema {found['schema']}); "
                "nothing was changed.",
                path=name,
            )
        texts = [str(found[key]) for key in ("name", "version", "author", "licence", "profile")]
        files = {str(path): str(sha256) for path, sha256 in found["files"].items()}
        entries = tuple(
            PackedEntry(str(one["at"]), None if one["label"] is None else str(one["label"]))
            for one in found["entries"]
        )
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError) as error:
        raise CardwrightError(
            f"{name}: its list {PACK_LIST} cannot be read; nothing was changed. Fetch the pack again.",
            path=name,
        ) from error
    name_, version, author, licence, profile = texts
    return PackList(name_, version, author, licence, profile, files, entries)

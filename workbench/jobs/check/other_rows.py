"""Tells rows of entries from what else has a key beside them: a section of settings names no entry.

A row that shares no field with any other row is of another kind. (Common practice, no source: one
`[general]` among sections that are called as the entries are.)
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from functools import cache

from workbench.errors import CardwrightError
from workbench.manifests.document import Document, Node
from workbench.manifests.selector import join_pointer, split_pointer
from workbench.typed import Any

_LEAST = 2
"""So many rows have to share a field before one that does not can be told from them."""


class OtherRows:
    """Of one manifest."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._rows_at = cache(self._read)

    def has(self, node: Node) -> bool:
        """Whether the key, or the section's name, heads something else than a row of an entry."""
        rows, fields = self._rows_at(join_pointer(split_pointer(node.pointer)[:-1]))
        row = rows.get(split_pointer(node.pointer)[-1])
        if not isinstance(row, Mapping) or not row:
            return False
        is_told = bool(fields) and max(fields.values()) >= _LEAST
        return is_told and all(fields[name] <= 1 for name in row)

    def _read(self, pointer: str) -> tuple[Mapping[str, Any], Counter[str]]:
        try:
            rows = self._document.get(pointer)
        except CardwrightError:
            return {}, Counter()
        if not isinstance(rows, Mapping):
            return {}, Counter()
        return rows, Counter(name for row in rows.values() if isinstance(row, Mapping) for name in row)

"""Second copies of small files, end to end in one file, compressed so that no media scanner takes them for
pictures. Their index stands in plan.json; each is checked by its SHA-256 when it is read.
"""

from __future__ import annotations

import os
import zlib
from collections.abc import Iterable, Mapping
from typing import Any

from workbench.changes.ground import Flush, Ground, write_all
from workbench.changes.plan import digest
from workbench.errors import LedgerError
from workbench.values import dataclass

PACKED_BYTES = 4 * 1024 * 1024
"""Larger files are kept as files of their own."""
_LEVEL = 1


@dataclass(frozen=True, slots=True)
class Packed:
    """Where one copy lies in the pack."""

    offset: int
    length: int
    size: int
    sha256: str

    def to_json(self) -> list[Any]:
        return [self.offset, self.length, self.size, self.sha256]

    @classmethod
    def from_json(cls, found: Any) -> Packed:
        return cls(*found)


def write_pack(
    ground: Ground, path: str, contents: Iterable[tuple[int, bytes]], flush: Flush
) -> dict[int, Packed]:
    """A new pack with these contents by id, to be flushed. Takes them one at a time."""
    index: dict[int, Packed] = {}
    offset = 0
    with ground.creating(path, flush) as handle:
        for number, content in contents:
            squeezed = zlib.compress(content, _LEVEL)
            write_all(handle, squeezed)
            index[number] = Packed(offset, len(squeezed), len(content), digest(content))
            offset += len(squeezed)
    return index


def read_packed(ground: Ground, path: str, packed: Packed) -> bytes:
    """One content.

    Raises:
        LedgerError: the pack is damaged there.
    """
    try:
        with ground.reading(path) as handle:
            content = zlib.decompress(os.pread(handle, packed.length, packed.offset))
    except (OSError, zlib.error) as error:
        raise _damaged(ground, path) from error
    if len(content) != packed.size or digest(content) != packed.sha256:
        raise _damaged(ground, path)
    return content


def index_to_json(index: Mapping[int, Packed]) -> dict[str, Any]:
    """Plain data for plan.json."""
    return {str(number): packed.to_json() for number, packed in index.items()}


def index_from_json(found: Mapping[str, Any]) -> dict[int, Packed]:
    """What `index_to_json` wrote."""
    return {int(number): Packed.from_json(packed) for number, packed in found.items()}


def _damaged(ground: Ground, path: str) -> LedgerError:
    return LedgerError(
        f"the kept copies in {ground.role}:{path} are damaged; nothing was changed by reading them",
        path=f"{ground.role}:{path}",
    )

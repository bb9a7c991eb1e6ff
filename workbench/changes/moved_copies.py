"""Second copies of small things that a change only moves, for the case that a power cut loses their names.

FAT and exFAT write the new name, its first cluster and the end of the old name at different times, so that a
cut may leave neither. The copies wait in `moved.pack` until the change is at its end. They are a help, not a
condition: what does not fit within `MOST_BYTES`, or within half of the room that is left, goes without.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from workbench.changes.fingerprint import name_content
from workbench.changes.folder_copy import copy_folder
from workbench.changes.ground import Flush, Ground, read_chunks
from workbench.changes.locate import names_inside
from workbench.changes.metadata import read_metadata
from workbench.changes.pack import PACKED_BYTES, Packed, write_pack
from workbench.changes.plan import digest
from workbench.changes.remake import PACKS
from workbench.changes.touched import Touched
from workbench.errors import PreflightError
from workbench.shown import shown
from workbench.values import dataclass, replace

MOST_BYTES = 8 * 1024 * 1024
_FOLDER_BYTES = 1024 * 1024

Find = Callable[[Touched], str]
"""Where a thing stands now, below the volume's root."""


@dataclass(frozen=True, slots=True)
class MovedCopies:
    """What was copied: the index of the pack, and the things as they are to be recorded."""

    index: Mapping[int, Packed]
    things: Mapping[int, Touched]


def copy_moved(
    ground: Ground, folder: str, things: tuple[Touched, ...], find: Find, room: int, flush: Flush
) -> MovedCopies:
    """Write `moved.pack` into the change's folder, to be flushed; nothing where nothing is moved or fits.

    Args:
        things: all of the change on this volume.
        room: bytes that may be taken.

    Raises:
        PreflightError: a file is not what was fingerprinted a moment ago.
        OSError: the card refused.
    """
    contents = _Contents(ground, things, find, min(room, MOST_BYTES))
    if not contents.candidates or contents.left <= 0:
        return MovedCopies({}, {})
    index = write_pack(ground, f"{folder}/{PACKS['moved']}", contents.read(), flush)
    return MovedCopies(index, contents.copied)


class _Contents:
    """Reads what is copied, folders first: they hold the most names."""

    def __init__(self, ground: Ground, things: tuple[Touched, ...], find: Find, left: int) -> None:
        self.ground = ground
        self.find = find
        self.left = left
        self.inside = names_inside(things)
        self.candidates = [thing for thing in things if _is_only_moved(thing)]
        self.copied: dict[int, Touched] = {}

    def read(self) -> Iterator[tuple[int, bytes]]:
        for thing in self.candidates:
            if thing.kind == "folder":
                yield from self._read_folder(thing)
        for size, thing in sorted(self._sized_files(), key=lambda one: one[0]):
            if size <= min(self.left, PACKED_BYTES):
                yield from self._read_file(thing)

    def _read_folder(self, thing: Touched) -> Iterator[tuple[int, bytes]]:
        skip = self.inside.get(thing.id, frozenset())
        raw = copy_folder(self.ground, self.find(thing), skip, min(self.left, _FOLDER_BYTES))
        if raw is not None:
            self.copied[thing.id] = replace(thing, copy="moved")
            self.left -= len(raw)
            yield thing.id, raw

    def _sized_files(self) -> Iterator[tuple[int, Touched]]:
        for thing in self.candidates:
            kind, _, rest = thing.fingerprint.partition(":")
            if kind == "file":
                yield int(rest.partition(":")[0]), thing

    def _read_file(self, thing: Touched) -> Iterator[tuple[int, bytes]]:
        path = self.find(thing)
        with self.ground.reading(path) as handle:
            content = b"".join(read_chunks(handle))
            metadata = read_metadata(self.ground, handle)
        if name_content(len(content), digest(content)) != thing.fingerprint:
            raise PreflightError(
                f"{shown(self.ground.role)}:{shown(path)} changed while it was being copied. "
                "Nothing was written; close the program that writes there and try again.",
                path=f"{self.ground.role}:{path}",
            )
        self.copied[thing.id] = replace(thing, copy="moved", metadata=metadata)
        self.left -= len(content)
        yield thing.id, content


def _is_only_moved(thing: Touched) -> bool:
    return not thing.is_new and thing.copy is None

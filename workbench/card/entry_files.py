"""Files whose own names name an entry: pictures, which go by exact affixes, and companions.

A companion belongs to the longest name that fits: `Boats.2.sav` goes with `Boats.2` where there is one.
What two entries could claim is nobody's: it is an ambiguity.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping

from workbench.card.entry import Entry
from workbench.card.entry_set import EntrySet
from workbench.card.globs import translate
from workbench.card.grounding import ground_pattern
from workbench.card.name_index import NameIndex
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern
from workbench.card.reference import FileReference, Piece
from workbench.late_pattern import late_pattern
from workbench.values import dataclass

COMPANION = "companion"

_PIECE = late_pattern(r"\{(entry|stem)\}")


@dataclass(frozen=True, slots=True)
class FileClaim:
    """A file and the entries that it could go with: one, or an ambiguity."""

    file: FileReference
    entries: tuple[Entry, ...]


def find_entry_files(
    index: NameIndex, entries: EntrySet, could_name: Callable[[str], bool] = lambda _: True
) -> Iterator[FileClaim]:
    """Every file of the rule's pictures and companions that goes with an entry, each once.

    `could_name` is a cheap look at a file's name, False where it cannot name what is wanted.
    """
    seen: set[VolumePath] = set()
    own = {entry.at for menu in entries.menus for entry in menu.entries}
    patterns = [(picture.path, picture.kind) for picture in entries.rule.pictures]
    patterns += [(companion, COMPANION) for companion in entries.rule.companions]
    for pattern, kind in patterns:
        for level in _levels(ground_pattern(index, pattern)):
            for claim in _find_level(index, entries, level, kind, could_name):
                if claim.file.at not in seen and claim.file.at not in own:
                    seen.add(claim.file.at)
                    yield claim


def _levels(pattern: FilePattern) -> Iterator[FilePattern]:
    """The pattern cut after each component that names the entry: each of those has a name to change."""
    parts = pattern.path.split("/")
    for number, part in enumerate(parts, 1):
        if _PIECE.search(part):
            yield FilePattern(pattern.volume, "/".join(parts[:number]))


def _find_level(
    index: NameIndex, entries: EntrySet, pattern: FilePattern, kind: str, could_name: Callable[[str], bool]
) -> Iterator[FileClaim]:
    folder, _, last = pattern.path.rpartition("/")
    found = _PIECE.search(last)
    assert found is not None
    fold = entries.names == "fat"
    folders = translate(f"{folder}/x" if folder else "x", fold=fold)
    # A suffix in another case is the same picture to a person even where the device minds.
    before = translate(last[: found.start()] or "**", fold=fold).name
    after = translate(last[found.end() :], fold=True).name
    piece: Piece = "stem" if found[1] == "stem" else "entry"
    for path, listing in index.folders(pattern.volume).items():
        bindings = folders.match_folder(path)
        if bindings is None:
            continue
        for name, _ in listing:
            if not could_name(name):
                continue
            claim = _claim(entries, name, bindings, piece, last[: found.start()], before, after)
            if claim is not None:
                yield _make_claim(pattern.volume, path, name, kind, piece, claim)


def _claim(
    entries: EntrySet,
    name: str,
    bindings: Mapping[str, str],
    piece: Piece,
    literal: str,
    before: re.Pattern[str],
    after: re.Pattern[str],
) -> tuple[int, int, tuple[Entry, ...]] | None:
    """The longest part of the name that an entry bears, between what the pattern has around it."""
    for start in _starts(name, literal, before):
        for end in range(len(name), start, -1):
            if after.fullmatch(name, end) is None:
                continue
            found = entries.find(piece, name[start:end], bindings)
            if found:
                return start, end, found
    return None


def _starts(name: str, literal: str, before: re.Pattern[str]) -> Iterator[int]:
    if not literal:
        yield 0
        return
    if not set("*?[{") & set(literal):
        if before.fullmatch(name, 0, len(literal)):
            yield len(literal)
        return
    yield from (start for start in range(len(name)) if before.fullmatch(name, 0, start))


def _make_claim(
    volume: str, folder: str, name: str, kind: str, piece: Piece, claim: tuple[int, int, tuple[Entry, ...]]
) -> FileClaim:
    start, end, entries = claim
    at = VolumePath(volume, f"{folder}/{name}" if folder else name)
    return FileClaim(FileReference(at, kind, piece, name[:start], name[end:]), entries)

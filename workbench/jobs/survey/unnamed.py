"""Menus that no text names: told by files that share their entries' names, or by entries alike.

A picture of each entry is the surest sign; else folders side by side that all hold the same things. Asked
only where the texts of a card name no menu at all.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence

from workbench.card.media_names import is_media
from workbench.jobs.survey.pictures import is_picture
from workbench.jobs.survey.places import Folder, Places, fold, stem_of, stems_of, suffix_of
from workbench.jobs.survey.tally import MOST_HOMES, Candidate
from workbench.values import dataclass, field

_LEAST = 3
_HALF = 0.5
_MOST_ALIKE = 0.6
_NO_ENTRIES = re.compile(r"skin|theme|lang|locale|font|tongue|i18n|backup", re.I)
_SHORT = 3
"""Names no longer than this are codes (of languages), not entries."""
_SIGN = re.compile(r"\W|_")


@dataclass(slots=True, eq=False)
class _Sharing:
    """What one folder has in common with folders of pictures and saved things."""

    files: set[str] = field(default_factory=set)
    folders: set[str] = field(default_factory=set)


def find_unnamed(places: Places) -> list[Candidate]:
    """Folders that seem to be menus though nothing names what lies in them, the surest first."""
    found = list(_with_companions(places)) or list(_of_alike_folders(places))
    return sorted(found, key=lambda one: (-len(one.children), one.homes))


# Entries and their pictures


def _with_companions(places: Places) -> Iterator[Candidate]:
    shared: dict[int, _Sharing] = defaultdict(_Sharing)
    bearers = _Bearers(places)
    for folder in places.folders:
        bare = _bare_names(folder)
        for home, sharing in _count(bearers, folder, bare).items():
            most = len(sharing.files) + len(sharing.folders)
            if most >= max(_LEAST, _HALF * len(bare)) and most >= _HALF * _count_alike(places, home, sharing):
                shared[home].files |= sharing.files
                shared[home].folders |= sharing.folders
    yield from _join(places, shared)


def _bare_names(folder: Folder) -> set[str]:
    """Of a folder's pictures the stems, without what all of them begin and end with."""
    stems = [stem_of(name) for name, is_folder in folder.listing if not is_folder and is_picture(name)]
    stems = [stem for stem in stems if stem and not stem.isdigit()]
    if len(stems) < _LEAST:
        return set()
    before = _shared_start(stems)
    after = _shared_start([stem[::-1] for stem in stems])[::-1]
    start = len(before) if before and _SIGN.search(before[-1]) else 0
    end = len(after) if after and _SIGN.search(after[0]) else 0
    return {stem[start : len(stem) - end] for stem in stems} - {""}


def _shared_start(texts: Sequence[str]) -> str:
    first, last = min(texts), max(texts)
    count = next((n for n, char in enumerate(first) if last[n] != char), len(first))
    return first[:count]


class _Bearers:
    """The children of folders by what they are called with and without their suffixes."""

    def __init__(self, places: Places) -> None:
        self._places = places
        self._known: dict[int, dict[str, list[tuple[str, bool]]]] = {}

    def find(self, name: str) -> Iterator[tuple[int, str, bool]]:
        """Folder, child and whether it is a folder, of all that bear a name and are no pictures."""
        homes = {*self._places.homes_of_name(name), *self._places.homes_of_stem(name)}
        for home in homes if len(homes) <= MOST_HOMES else ():
            for child, is_folder in self._of(home).get(fold(name), ()):
                yield home, child, is_folder

    def _of(self, home: int) -> dict[str, list[tuple[str, bool]]]:
        if home not in self._known:
            known: dict[str, list[tuple[str, bool]]] = defaultdict(list)
            for child, is_folder in self._places.folders[home].listing:
                if not child.startswith(".") and (is_folder or not is_picture(child)):
                    for name in (child,) if is_folder else (child, *stems_of(child)):
                        known[fold(name)].append((child, is_folder))
            self._known[home] = known
        return self._known[home]


def _count(bearers: _Bearers, folder: Folder, bare: Iterable[str]) -> dict[int, _Sharing]:
    """By folder: its files and folders that bear these names."""
    found: dict[int, _Sharing] = defaultdict(_Sharing)
    for name in bare:
        for home, child, is_folder in bearers.find(name):
            if not is_folder:
                found[home].files.add(fold(child))
            elif home != folder.number:
                found[home].folders.add(fold(child))
    return found


def _count_alike(places: Places, home: int, sharing: _Sharing) -> int:
    """How many children of the folder are of the kind that was found."""
    if len(sharing.folders) >= len(sharing.files):
        return sum(1 for _ in places.children(home, folders=True))
    suffixes = {suffix_of(name) for name in sharing.files}
    return sum(1 for name in places.children(home, folders=False) if suffix_of(name) in suffixes)


def _join(places: Places, shared: dict[int, _Sharing]) -> Iterator[Candidate]:
    """Each folder as a menu; those side by side that have most of the folder above as one."""
    by_above: dict[int, list[int]] = defaultdict(list)
    for home in shared:
        above = places.above(home)
        if above is not None:
            by_above[above.number].append(home)
    joined: set[int] = set()
    for above_number, homes in by_above.items():
        beside = sum(1 for _ in places.children(above_number, folders=True))
        if len(homes) > 1 and len(homes) >= _MOST_ALIKE * beside and places.folders[above_number].path:
            joined.update(homes)
            yield _make(homes, above_number, shared)
    yield from (_make([home], None, shared) for home in shared if home not in joined)


def _make(homes: Sequence[int], above: int | None, shared: dict[int, _Sharing]) -> Candidate:
    files = set().union(*(shared[home].files for home in homes))
    folders = set().union(*(shared[home].folders for home in homes))
    if len(folders) >= len(files):
        return Candidate(tuple(homes), above, "folders", {}, {}, {}, folders, Counter())
    suffixes = Counter(suffix_of(name) for name in files)
    return Candidate(tuple(homes), above, "files", {}, {}, {}, files, suffixes)


# Entries that hold the same things


def _of_alike_folders(places: Places) -> Iterator[Candidate]:
    """The folders whose own folders each hold files of the same names."""
    found: list[Candidate] = []
    for folder in places.folders:
        children = list(places.children(folder.number, folders=True))
        is_codes = all(len(name) <= _SHORT for name in children)
        if len(children) <= _LEAST or is_codes or _NO_ENTRIES.search(folder.name):
            continue
        below = [one for name in children if (one := places.find(folder.volume, folder.child(name)))]
        alike = _that_share(below)
        if len(alike) >= _MOST_ALIKE * len(children):
            names = {fold(one.name) for one in alike}
            found.append(Candidate((folder.number,), None, "folders", {}, {}, {}, names, Counter()))
    most = max((len(one.children) for one in found), default=0)
    yield from (one for one in found if len(one.children) == most)


def _that_share(below: Sequence[Folder]) -> list[Folder]:
    """Those that hold a file, no media, of a name that most of them hold."""
    own = [{name for name, is_folder in one.listing if not is_folder and not is_media(name)} for one in below]
    counts = Counter(name for names in own for name in names)
    usual = {name for name, count in counts.items() if 2 * count >= len(below)}
    return [one for one, names in zip(below, own, strict=True) if names & usual]

"""Every name on a card, ready to be asked: which folder holds a child of this name, does this path exist.

Names are compared as a FAT file system does. Folders go by number, so that 100,000 names stay small.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from workbench.card.name_index import Listing, NameIndex
from workbench.card.names import fold_name
from workbench.values import dataclass

_Homes = int | set[int]


@dataclass(frozen=True, slots=True)
class Folder:
    """One folder of the card."""

    number: int
    volume: str
    path: str
    listing: Listing

    @property
    def name(self) -> str:
        return self.path.rpartition("/")[2]

    def child(self, name: str) -> str:
        """The path of a child."""
        return f"{self.path}/{name}" if self.path else name


class Places:
    """The folders of all volumes, and who holds which name."""

    def __init__(self, index: NameIndex, volumes: Iterable[str]) -> None:
        self.volumes = tuple(volumes)
        self.folders: list[Folder] = []
        self._numbers: dict[tuple[str, str], int] = {}
        self._by_name: dict[str, _Homes] = {}
        self._by_stem: dict[str, _Homes] = {}
        self._spelled: dict[int, set[str]] = {}
        self._held: dict[int, set[str]] = {}
        self._is_indexed = False
        for volume in self.volumes:
            for path, listing in index.folders(volume).items():
                self._add(volume, path, listing)

    def _add(self, volume: str, path: str, listing: Listing) -> None:
        number = len(self.folders)
        self.folders.append(Folder(number, volume, path, listing))
        self._numbers[volume, fold(path)] = number

    def _index(self) -> None:
        """Note where each name stands: not before it is asked, since whether a path exists needs no index."""
        self._is_indexed = True
        by_name, by_stem = self._by_name, self._by_stem
        for number, folder in enumerate(self.folders):
            for name, is_folder in folder.listing:
                key = name.upper() if name.isascii() else fold_name(name, "fat")
                if by_name.setdefault(key, number) != number:
                    _put(by_name, key, number)
                if is_folder or "." not in name:
                    continue
                for stem in stems_of(name):
                    key = stem.upper() if stem.isascii() else fold_name(stem, "fat")
                    if by_stem.setdefault(key, number) != number:
                        _put(by_stem, key, number)

    def find(self, volume: str, path: str) -> Folder | None:
        """The folder at a path."""
        number = self._numbers.get((volume, fold(path)))
        return None if number is None else self.folders[number]

    def above(self, number: int) -> Folder | None:
        """The folder that holds a folder; None of a volume's root."""
        folder = self.folders[number]
        return self.find(folder.volume, folder.path.rpartition("/")[0]) if folder.path else None

    def homes_of_name(self, text: str) -> Sequence[int] | set[int]:
        """The folders that hold a child of this whole name."""
        if not self._is_indexed:
            self._index()
        return _get(self._by_name, fold(text))

    def homes_of_stem(self, text: str) -> Sequence[int] | set[int]:
        """The folders that hold a file of this stem."""
        if not self._is_indexed:
            self._index()
        return _get(self._by_stem, fold(text))

    def holds(self, number: int, name: str) -> bool:
        """Whether a folder has a child of this name."""
        held = self._held.get(number)
        if held is None:
            held = self._held[number] = {fold(child) for child, _ in self.folders[number].listing}
        return fold(name) in held

    def spells(self, number: int, name: str) -> bool:
        """Whether a folder has a child spelled exactly so, or a file of exactly that stem."""
        if number not in self._spelled:
            names = [name for name, _ in self.folders[number].listing]
            self._spelled[number] = {*names, *(stem for one in names for stem in stems_of(one))}
        return name in self._spelled[number] or not name.isascii()

    def trace(self, volume: str, parts: Sequence[str]) -> list[int]:
        """The folders in which each part of a path is found, from the root down to where it ends or breaks.

        As many as there are parts means that the path exists.
        """
        found: list[int] = []
        path = ""
        for part in parts:
            number = self._numbers.get((volume, path))
            if number is None or not self.holds(number, part):
                break
            found.append(number)
            path = f"{path}/{fold(part)}" if path else fold(part)
        return found

    def exists(self, volume: str, parts: Sequence[str]) -> bool:
        """Whether something is at that path."""
        return len(self.trace(volume, parts)) == len(parts)

    def children(self, number: int, *, folders: bool) -> Iterator[str]:
        """The folders, or the other things, in a folder; hidden ones are left out."""
        for name, is_folder in self.folders[number].listing:
            if is_folder == folders and not name.startswith("."):
                yield name


def fold(text: str) -> str:
    """What names have in common that are one name to the device."""
    return text.upper() if text.isascii() else fold_name(text, "fat")


def stem_of(name: str) -> str:
    """A file's name without its suffix; `""` where it has none."""
    stem, dot, _ = name.rpartition(".")
    return stem if dot else ""


def stems_of(name: str) -> tuple[str, ...]:
    """A file's name without its suffix, and without two where the second looks like one (`Boats.tape.x`)."""
    stem = stem_of(name)
    if not stem:
        return ()
    inner, dot, second = stem.rpartition(".")
    is_double = dot and inner and 0 < len(second) <= 6 and second.isalpha()
    return (stem, inner) if is_double else (stem,)


def suffix_of(name: str) -> str:
    """A file's suffix in lower case, without its dot; `""` where it has none."""
    stem, dot, suffix = name.rpartition(".")
    return suffix.lower() if dot and stem else ""


def _put(table: dict[str, _Homes], key: str, number: int) -> None:
    known = table.get(key)
    if known is None:
        table[key] = number
    elif isinstance(known, set):
        known.add(number)
    elif known != number:
        table[key] = {known, number}


def _get(table: dict[str, _Homes], key: str) -> Sequence[int] | set[int]:
    known = table.get(key)
    if known is None:
        return ()
    return known if isinstance(known, set) else (known,)

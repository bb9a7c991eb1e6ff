"""The entries of a menu as a survey takes it to be, found by name, stem or place."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Literal

from workbench.jobs.survey.places import Folder, Places, fold, suffix_of
from workbench.jobs.survey.routes import Route
from workbench.values import dataclass, field

Key = tuple[int, str]
"""An entry: the number of the folder that holds it, and its folded name."""
How = Literal["path", "entry", "stem"]


@dataclass(frozen=True, slots=True, eq=False)
class MenuGuess:
    """A menu that the card seems to have."""

    id: str
    volume: str
    root: str
    """Its path, `{parent}` where each folder is a menu of its own."""
    homes: Mapping[int, str | None]
    """The folders that hold entries, each with what `{parent}` stands for."""
    kind: Literal["folders", "files"]
    suffixes: tuple[str, ...]
    """Of files: their suffixes in lower case."""
    named: int
    """How many of its entries are named elsewhere."""
    sites: int
    """In how many kinds of places."""
    by_name: Mapping[str, Sequence[Key]] = field(repr=False)
    by_stem: Mapping[str, Sequence[Key]] = field(repr=False)
    names: Mapping[Key, str] = field(repr=False)
    """Names as they are on the card."""
    rivals: tuple[str, ...] = ()
    """Other folders that could be the menu."""
    hide: tuple[str, ...] = ()
    """Folders in its root that are no entries."""

    @property
    def parents(self) -> frozenset[str]:
        """The folded names of the folders that are menus."""
        return frozenset(fold(parent) for parent in self.homes.values() if parent is not None)

    @property
    def title(self) -> str:
        return f"{self.volume}:{self.root}"

    def in_parent(self, parent: str | None) -> frozenset[int]:
        """The homes of one parent, or all."""
        return frozenset(
            home for home, mine in self.homes.items() if parent is None or (mine and fold(mine) == parent)
        )

    def on_route(self, route: Route) -> Key | None:
        """The entry that a path leads to or through."""
        for place, home in enumerate(route.homes):
            if place >= route.first and home in self.homes:
                key = home, fold(route.parts[place])
                if key in self.names:
                    return key
        return None

    def find(self, text: str) -> tuple[How, Sequence[Key]] | None:
        """The entries that a whole text names."""
        folded = fold(text)
        if folded in self.by_name:
            return "entry", self.by_name[folded]
        if folded in self.by_stem:
            return "stem", self.by_stem[folded]
        return None


def make_menu(
    places: Places,
    menu_id: str,
    root: str,
    homes: Mapping[int, str | None],
    kind: Literal["folders", "files"],
    suffixes: Iterable[str],
    *,
    named: int,
    sites: int,
    hide: tuple[str, ...] = (),
    rivals: tuple[str, ...] = (),
) -> MenuGuess:
    """A menu with its entries looked up."""
    wanted = _whole_suffixes(places, homes, set(suffixes)) if kind == "files" else ()
    by_name: dict[str, list[Key]] = {}
    by_stem: dict[str, list[Key]] = {}
    names: dict[Key, str] = {}
    for home in homes:
        for name in places.children(home, folders=kind == "folders"):
            if name in hide:
                continue
            suffix = _fitting(name, wanted)
            if kind == "files" and suffix is None:
                continue
            key = home, fold(name)
            names[key] = name
            by_name.setdefault(key[1], []).append(key)
            if suffix:
                by_stem.setdefault(fold(name[: -len(suffix) - 1]), []).append(key)
    first: Folder = places.folders[next(iter(homes))]
    return MenuGuess(
        menu_id,
        first.volume,
        root,
        homes,
        kind,
        wanted,
        named,
        sites,
        by_name,
        by_stem,
        names,
        rivals,
        hide,
    )


def is_entry_file(menu: MenuGuess, name: str) -> bool:
    """Whether a file of that name is an entry of the menu, if it lies in its folder."""
    return menu.kind == "files" and _fitting(name, menu.suffixes) is not None


def _fitting(name: str, suffixes: Iterable[str]) -> str | None:
    """The longest of these suffixes that a name has."""
    lower = name.lower()
    found = [one for one in suffixes if (lower.endswith(f".{one}") if one else not suffix_of(name))]
    return max(found, key=len, default=None)


def _whole_suffixes(places: Places, homes: Iterable[int], last: set[str]) -> tuple[str, ...]:
    """Suffixes of two parts (`tape.x`) where every file with the last part has the one before it too."""
    found: dict[str, list[str]] = {suffix: [] for suffix in last}
    for home in homes:
        for name in places.children(home, folders=False):
            suffix = suffix_of(name)
            if suffix in found:
                found[suffix].append(name)
    whole = set()
    for suffix, names in found.items():
        inner = {suffix_of(name[: -len(suffix) - 1]) for name in names} if suffix else set()
        is_double = len(names) > 1 and len(inner) == 1 and next(iter(inner)).isalpha()
        whole.add(f"{inner.pop()}.{suffix}" if is_double else suffix)
    return tuple(sorted(whole))

"""The entries of all menus that one rule of the profile makes, found by name, stem or place.

A place is found in the entry or below it, or in one of the files that go with it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from workbench.card.entry import Entry, Menu
from workbench.card.names import fold_name
from workbench.card.profile import MenuRule, NamesRule, Profile
from workbench.card.reference import FileReference, Piece
from workbench.card.roster import Roster, is_same_name
from workbench.values import dataclass

_ABOUT_ENTRIES = frozenset(("entry", "stem", "parent"))
"""Placeholders that say something about an entry; any other binds a row, a key."""


@dataclass(frozen=True, slots=True)
class Located:
    """Which component of a place names which entry."""

    index: int
    entries: tuple[Entry, ...]
    piece: Piece = "entry"
    before: str = ""
    after: str = ""


class EntrySet:
    """Entries of the menus of one rule."""

    def __init__(self, rule: MenuRule, menus: Sequence[Menu], profile: Profile) -> None:
        self.rule = rule
        self.menus = tuple(menus)
        self.names: NamesRule = profile.volumes[rule.root.volume].names
        self.by_name: Roster[Entry] = Roster(
            ((e.name, e) for menu in menus for e in menu.entries), self.names
        )
        self.by_stem: Roster[Entry] = Roster(
            ((e.stem, e) for menu in menus for e in menu.entries), self.names
        )
        self._volume_names: Mapping[str, NamesRule] = {r: v.names for r, v in profile.volumes.items()}
        self._folded: dict[tuple[str, str], str] = {}
        self._roots: dict[tuple[str, str], Roster[Entry]] = {}
        self._parents: dict[tuple[str, str], str | None] = {}
        for menu in menus:
            roster = Roster(((e.name, e) for e in menu.entries), self.names)
            self._roots[menu.root.volume, self._fold(menu.root.volume, menu.root.path)] = roster
            self._parents[menu.root.volume, menu.root.path] = menu.parent
        self._depths = sorted({path.count("/") + 1 if path else 0 for _, path in self._roots})
        self._files: dict[tuple[str, str], list[tuple[Entry, FileReference]]] = {}
        self._file_heads: set[tuple[str, str]] = set()
        """Volume and first component of all of these."""

    def add_files(self, files: Iterable[tuple[Entry, FileReference]]) -> None:
        """Make places of these files lead to their entry too."""
        for entry, file in files:
            key = file.at.volume, self._fold(file.at.volume, file.at.path)
            self._files.setdefault(key, []).append((entry, file))
            self._file_heads.add((file.at.volume, key[1].partition("/")[0]))

    def find(self, piece: Piece, text: str, bindings: Mapping[str, str]) -> tuple[Entry, ...]:
        """The entries of that name or stem that agree with what placeholders stand for elsewhere."""
        roster = self.by_name if piece == "entry" else self.by_stem
        return self.choose(roster.find(text), bindings)

    def choose(self, found: Sequence[Entry], bindings: Mapping[str, str]) -> tuple[Entry, ...]:
        """Those of some entries that placeholders can stand for."""
        if not found or _ABOUT_ENTRIES.isdisjoint(bindings):
            return tuple(found)
        return tuple(entry for entry in found if self.agrees(entry, bindings))

    def agrees(self, entry: Entry, bindings: Mapping[str, str]) -> bool:
        """Whether `{entry}`, `{stem}` and `{parent}` can stand for this entry in those bindings."""
        if _ABOUT_ENTRIES.isdisjoint(bindings):
            return True
        name, stem, parent = bindings.get("entry"), bindings.get("stem"), bindings.get("parent")
        # By place: the entry may have been read with its label, which ours were not.
        if name is not None and all(one.at != entry.at for one in self.by_name.find(name)):
            return False
        if stem is not None and all(one.at != entry.at for one in self.by_stem.find(stem)):
            return False
        mine = self.parent_of(entry)
        return parent is None or mine is None or is_same_name(parent, mine, self.names)

    def parent_of(self, entry: Entry) -> str | None:
        """What `{parent}` stands for in the entry's menu."""
        return self._parents[entry.at.volume, entry.at.path.rpartition("/")[0]]

    def locate(self, volume: str, components: Sequence[str]) -> Located | None:
        """Which component of a place on a volume names an entry, if the place leads to one or below it."""
        folded = [self._fold(volume, part) for part in components]
        for index in self._depths:
            if index >= len(components):
                break
            roster = self._roots.get((volume, "/".join(folded[:index])))
            entries = roster.find(components[index]) if roster is not None else None
            if entries:
                return Located(index, tuple(entries))
        if not folded or (volume, folded[0]) not in self._file_heads:
            return None
        return self._locate_file(volume, folded, components)

    def _locate_file(self, volume: str, folded: Sequence[str], components: Sequence[str]) -> Located | None:
        for index in range(len(components)):
            found = self._files.get((volume, "/".join(folded[: index + 1])))
            if found:
                name = components[index]
                _, file = found[0]
                before, after = name[: len(file.before)], name[len(name) - len(file.after) :]
                return Located(index, tuple({e.at: e for e, _ in found}.values()), file.piece, before, after)
        return None

    def _fold(self, volume: str, path: str) -> str:
        known = self._folded.get((volume, path))
        if known is None:
            known = self._folded[volume, path] = fold_name(path, self._volume_names[volume])
        return known

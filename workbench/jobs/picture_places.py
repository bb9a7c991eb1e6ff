"""Where the pictures of a menu's entries are, and where a missing one would be: as its neighbours' are.

One place for each folder that the profile's pattern finds (several skins may each have their own).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping

from workbench.card.entry_set import EntrySet
from workbench.card.globs import translate
from workbench.card.grounding import ground_pattern
from workbench.card.menu import Entry, Menu, read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import PictureRule, Profile
from workbench.card.tree import Tree
from workbench.values import dataclass

_WILD = frozenset("*?[")


@dataclass(frozen=True, slots=True)
class PicturePlace:
    """One picture of an entry, there or not."""

    rule: PictureRule
    at: VolumePath
    is_there: bool
    neighbours: tuple[VolumePath, ...]
    """Pictures of the same sort of other entries of the menu."""
    shared_with: tuple[Entry, ...] = ()
    """Other entries that show the same file."""


def find_picture_places(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> tuple[PicturePlace, ...]:
    """The entry's picture of each kind that the profile knows, in its order."""
    finder = _Finder(tree, profile, menu, entry)
    return tuple(
        place
        for rule in menu.rule.pictures
        if rule.path.volume in tree.roles()
        for place in finder.find(rule)
    )


class _Finder:
    """Reads the pictures of one menu."""

    def __init__(self, tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> None:
        self._index = index_names(tree)
        self._menu = menu
        self._entry = entry
        menus = read_rule_menus(tree, profile, menu.rule, labels=False)
        self._entries = EntrySet(menu.rule, menus, profile)
        self._own = {one.at for one in menu.entries}

    def find(self, rule: PictureRule) -> Iterator[PicturePlace]:
        """The place in each folder that the rule finds."""
        there: dict[str, tuple[VolumePath, tuple[Entry, ...]]] = {}
        neighbours: dict[str, list[VolumePath]] = {}
        spellings: Counter[str] = Counter()
        for path, entries, bindings in self._pictures(rule):
            slot = self._slot(rule, path, bindings)
            if any(one.at == self._entry.at for one in entries):
                there.setdefault(slot.casefold(), (VolumePath(rule.path.volume, path), entries))
            elif any(one.at in self._own for one in entries):
                neighbours.setdefault(slot.casefold(), []).append(VolumePath(rule.path.volume, path))
                spellings[slot] += 1
        for key in sorted({*there, *neighbours}):
            beside = tuple(neighbours.get(key, ()))
            if key in there:
                at, entries = there[key]
                others = tuple(one for one in entries if one.at != self._entry.at)
                yield PicturePlace(rule, at, True, beside, others)
            elif self._is_usual(rule, beside):
                slot = next(one for one, _ in spellings.most_common() if one.casefold() == key)
                yield PicturePlace(rule, VolumePath(rule.path.volume, slot), False, beside)
        if not there and not neighbours and (free := self._free_place(rule)) is not None:
            yield PicturePlace(rule, free, False, ())

    def _pictures(self, rule: PictureRule) -> Iterator[tuple[str, tuple[Entry, ...], Mapping[str, str]]]:
        pattern = ground_pattern(self._index, rule.path)
        for path, is_folder, bindings in self._index.find(pattern.volume, translate(pattern.path, fold=True)):
            if is_folder:
                continue
            if "entry" in bindings:
                entries = self._entries.find("entry", bindings["entry"], bindings)
            else:
                entries = self._entries.find("stem", bindings.get("stem", ""), bindings)
            if entries:
                yield path, entries, bindings

    def _slot(self, rule: PictureRule, path: str, bindings: Mapping[str, str]) -> str:
        """The path with this entry's name in place of the one in it."""
        mine = {"entry": self._entry.name, "stem": self._entry.stem}
        patterns, parts = rule.path.path.split("/"), path.split("/")
        for back in range(1, min(len(patterns), len(parts)) + 1):
            for piece, name in mine.items():
                before, found, _ = patterns[-back].partition(f"{{{piece}}}")
                if found and piece in bindings:
                    at = parts[-back].find(bindings[piece], 0 if _WILD & set(before) else len(before))
                    rest = parts[-back][at + len(bindings[piece]) :]
                    parts[-back] = parts[-back][:at] + name + rest
            if patterns[-back] == "**":
                break
        return "/".join(parts)

    def _is_usual(self, rule: PictureRule, beside: tuple[VolumePath, ...]) -> bool:
        """Where the pattern finds many folders, only those in which half of the entries have one count."""
        return not _WILD & set(rule.path.path) or 2 * len(beside) >= len(self._menu.entries) - 1

    def _free_place(self, rule: PictureRule) -> VolumePath | None:
        """Where the pattern itself says, with nobody to go by; None where it leaves that open."""
        is_open = "{parent}" in rule.path.path and self._menu.parent is None
        if is_open or _WILD & set(rule.path.path):
            return None
        path = rule.path.path.replace("{entry}", self._entry.name).replace("{stem}", self._entry.stem)
        return VolumePath(rule.path.volume, path.replace("{parent}", self._menu.parent or ""))

"""Reads a ruled manifest for one entry, and knows which of its bytes the profile's rules answer for.

Answered for is: what names this entry or another, in this menu or another, and the shown names.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator

from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.grounding import ground_pattern
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.path_rule import PathRule
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.rule_reading import NodeHit, RuleReader
from workbench.card.ruled_files import RuledFile, RuledFiles, find_files, find_ruled_files
from workbench.card.tree import Tree
from workbench.manifests.document import Document, Format
from workbench.values import dataclass

Span = tuple[int, int]


@dataclass(frozen=True, slots=True)
class _OtherMenu:
    """Another menu rule: its manifests, who reads them, and the places of its entries and their files."""

    files: RuledFiles
    reader: RuleReader
    places: frozenset[VolumePath]


class RuledReading:
    """The rules of one menu, ready to read manifests; those of the other menus only if asked for."""

    def __init__(self, tree: Tree, profile: Profile, entries: EntrySet) -> None:
        self._tree = tree
        self._profile = profile
        self._entries = entries
        self.files: RuledFiles = find_ruled_files(index_names(tree), entries.rule, profile)
        self._reader = make_reader(tree, profile, entries)
        self._others: list[_OtherMenu] | None = None
        self._label_files: dict[str, frozenset[VolumePath]] = {}

    def read(self, document: Document, ruled: RuledFile, could_name: Callable[[str], bool]) -> list[NodeHit]:
        """What the rules find in the manifest, of every entry that could be meant."""
        return self._reader.read(document, ruled.rules[document.format], ruled.at, could_name)

    def find_answering(self, at: VolumePath) -> tuple[Format, ...]:
        """The formats in which other rules than this menu's own read a file: shown names, other menus."""
        formats = [menu.label.format for menu in self._profile.menus if menu.label and self._labels(menu, at)]
        for other_menu in self._other_menus():
            other = other_menu.files.get(at.volume, {}).get(at.path)
            formats += other.rules if other is not None else ()
        return tuple(dict.fromkeys(formats))

    def find_answered(
        self, document: Document, at: VolumePath, could_name: Callable[[str], bool]
    ) -> Iterator[Span]:
        """Spans of shown names, and of what names an entry of another menu."""
        for menu in self._profile.menus:
            label = menu.label
            if label is not None and label.format == document.format and self._labels(menu, at):
                yield from ((node.start, node.end) for node in document.find(label.at))
        for menu_there in self._other_menus():
            other = menu_there.files.get(at.volume, {}).get(at.path)
            rules = other.rules.get(document.format, []) if other is not None else []
            yield from _answered(menu_there.reader.read(document, rules, at, could_name), could_name)

    def belongs_elsewhere(self, at: VolumePath) -> bool:
        """Whether a file or folder is an entry of another menu, or goes with one."""
        return any(at in other.places for other in self._other_menus())

    def _labels(self, menu: MenuRule, at: VolumePath) -> bool:
        """Whether the shown names of a menu stand in that file."""
        if menu.label is None or menu.label.file.volume != at.volume:
            return False
        if menu.id not in self._label_files:
            self._label_files[menu.id] = _label_files(self._tree, self._profile, menu)
        return at in self._label_files[menu.id]

    def _other_menus(self) -> list[_OtherMenu]:
        if self._others is None:
            self._others = [
                self._read_other(rule)
                for rule in self._profile.menus
                if rule is not self._entries.rule and rule.root.volume in self._tree.roles()
            ]
        return self._others

    def _read_other(self, rule: MenuRule) -> _OtherMenu:
        menus = read_rule_menus(self._tree, self._profile, rule, labels=False)
        entries = EntrySet(rule, menus, self._profile)
        index = index_names(self._tree)
        places = {entry.at for menu in menus for entry in menu.entries}
        places.update(claim.file.at for claim in find_entry_files(index, entries))
        reader = make_reader(self._tree, self._profile, entries)
        return _OtherMenu(find_ruled_files(index, rule, self._profile), reader, frozenset(places))


def _answered(hits: Iterable[NodeHit], could_name: Callable[[str], bool]) -> Iterator[Span]:
    """Spans of texts that name another menu's entry, and hold the name looked for nowhere else.

    A path may lead through an entry of this menu to one of that: then it names both.
    """
    found: dict[Span, list[NodeHit]] = {}
    for hit in hits:
        found.setdefault((hit.node.start, hit.node.end), []).append(hit)
    for span, here in found.items():
        text = here[0].node.text
        for hit in sorted(here, key=lambda one: one.start, reverse=True):
            if hit.start >= 0:
                text = f"{text[: hit.start]}\n{text[hit.end :]}"
        if not could_name(text):
            yield span


def make_reader(tree: Tree, profile: Profile, entries: EntrySet) -> RuleReader:
    """A reader for the entries of one rule."""
    return RuleReader(entries, PathRule(tree, profile, entries), _label_files(tree, profile, entries.rule))


def _label_files(tree: Tree, profile: Profile, rule: MenuRule) -> frozenset[VolumePath]:
    if rule.label is None:
        return frozenset()
    pattern = ground_pattern(index_names(tree), rule.label.file)
    if pattern.is_plain:
        return frozenset((VolumePath(pattern.volume, pattern.path),))
    names = profile.volumes[pattern.volume].names
    return frozenset(at for at, _ in find_files(index_names(tree), pattern, names))

"""Finds everything that names an entry: the heart of a rename.

A reference is a place that a rule of the profile covers. Whatever else names the entry is a mention: listed,
never changed. What could mean two entries is an ambiguity: listed, never guessed at.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.entry import Entry, Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_search import EntrySearch
from workbench.card.entry_set import EntrySet
from workbench.card.grounding import check_grounds
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.reference import (
    AllReferences,
    Ambiguity,
    Blocked,
    FileReference,
    Found,
    ManifestReferences,
    Reference,
)
from workbench.card.rewriting import rewrite
from workbench.card.ruled_files import RuledFile
from workbench.card.ruled_reading import RuledReading
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError

__all__ = [
    "AllReferences",
    "Ambiguity",
    "Blocked",
    "FileReference",
    "Found",
    "ManifestReferences",
    "Reference",
    "find_all_references",
    "find_references",
    "rewrite",
]


def find_references(
    tree: Tree, profile: Profile, menu: Menu, entry: Entry, *, mentions: bool = True
) -> Found:
    """Everything that names one entry, on every volume that is present.

    Args:
        mentions: also search every text file for mentions that no rule covers.

    Raises:
        CardError: the entry is no longer there, or the card is not; a rule leads through a link out of it.
    """
    check_grounds(index_names(tree), menu.rule)
    return EntrySearch(tree, profile, menu, entry).run(mentions=mentions)


def find_all_references(tree: Tree, profile: Profile) -> AllReferences:
    """What names each entry, by the entry's place: a manifest is opened once for all entries of a menu rule.

    Manifests that cannot be read, and places that could mean two entries, are left out.
    """
    found: dict[VolumePath, list[Reference | FileReference]] = {}
    for rule in profile.menus:
        if rule.root.volume not in tree.roles():
            continue
        for entry, reference in _find_all(tree, profile, rule):
            found.setdefault(entry.at, []).append(reference)
    return {at: tuple(references) for at, references in found.items()}


def _find_all(
    tree: Tree, profile: Profile, rule: MenuRule
) -> Iterator[tuple[Entry, Reference | FileReference]]:
    entries = EntrySet(rule, read_rule_menus(tree, profile, rule, labels=False), profile)
    claims = [claim for claim in find_entry_files(index_names(tree), entries) if len(claim.entries) == 1]
    files = [(claim.entries[0], claim.file) for claim in claims]
    entries.add_files(files)
    reading = RuledReading(tree, profile, entries)
    for by_path in reading.files.values():
        for ruled in by_path.values():
            yield from _read_all(tree, profile, reading, ruled)
    yield from files


def _read_all(
    tree: Tree, profile: Profile, reading: RuledReading, ruled: RuledFile
) -> Iterator[tuple[Entry, Reference]]:
    from workbench.manifests.opening import open_document

    for format in ruled.rules:
        try:
            document = open_document(tree.read(ruled.at), format, str(ruled.at), profile.variables)
        except (CardError, ManifestError):
            continue
        for hit in reading.read(document, ruled, lambda _: True):
            if len(hit.entries) == 1 and hit.start >= 0:
                yield hit.entries[0], hit.reference(ruled.at)

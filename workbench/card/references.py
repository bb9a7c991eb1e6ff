"""Finds everything that names an entry: the heart of a rename.

A reference is a place that a rule of the profile covers. Whatever else names the entry is a mention: listed,
never changed. What could mean two entries is an ambiguity: listed, never guessed at.
"""

from __future__ import annotations

from workbench.card.entry import Entry, Menu
from workbench.card.menu import read_rule_menus
from workbench.card.menu_search import MenuSearch
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
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
from workbench.card.tree import Tree

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
    return MenuSearch(tree, profile, menu).find([entry], mentions=mentions)


def find_all_references(tree: Tree, profile: Profile) -> AllReferences:
    """What names each entry, by the entry's place: a manifest is opened once for all entries of a menu rule.

    Manifests that cannot be read, and places that could mean two entries, are left out.
    """
    found: dict[VolumePath, list[Reference | FileReference]] = {}
    for rule in profile.menus:
        if rule.root.volume not in tree.roles():
            continue
        menus = read_rule_menus(tree, profile, rule, labels=False)
        for entry, reference in MenuSearch(tree, profile, menus[0]).find_all() if menus else ():
            found.setdefault(entry.at, []).append(reference)
    return {at: tuple(references) for at, references in found.items()}

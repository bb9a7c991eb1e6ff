"""Companions that lie in the entry itself: they go where it goes, and are the person's all the same."""

from __future__ import annotations

from workbench.card.entry_set import EntrySet
from workbench.card.globs import translate
from workbench.card.grounding import ground_pattern
from workbench.card.menu import Entry, Menu, read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree


def find_inner_companions(tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> tuple[VolumePath, ...]:
    """Files and folders in the entry that a pattern of the menu calls its companions."""
    index = index_names(tree)
    fold = profile.volumes[menu.root.volume].names == "fat"
    patterns = [ground_pattern(index, one) for one in menu.rule.companions]
    inside = [one for one in patterns if one.volume == entry.at.volume]
    if not inside:
        return ()
    menus = read_rule_menus(tree, profile, menu.rule, labels=False)
    entries = EntrySet(menu.rule, menus, profile)
    found = {
        VolumePath(pattern.volume, path)
        for pattern in inside
        for path, _, bindings in index.find(pattern.volume, translate(pattern.path, fold=fold))
        if path.startswith(entry.at.path + "/") and entries.agrees(entry, bindings)
    }
    return tuple(sorted(found))

"""How a device hides an entry: by a name that its profile says is not listed.

A hidden entry is an entry all the same: its manifests, pictures and companions go on naming it. So that they
are found, a hidden one is looked at through a profile that hides everything hidden but this one.
"""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.globs import matches_any
from workbench.card.menu import Entry, Menu, read_rule_menus
from workbench.card.names import find_fault, fold_name
from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.tree import Tree
from workbench.errors import EntryError
from workbench.shown import shown
from workbench.values import dataclass, replace

_HOST_LITTER = (
    "._",
    ".DS_Store",
    ".DocumentRevisions-",
    ".Spotlight-",
    ".TemporaryItems",
    ".Trash",
    ".apdisk",
    ".fseventsd",
)
"""Beginnings of names that desktop systems leave on cards (common practice, no source): nobody hid these."""


@dataclass(frozen=True, slots=True)
class HiddenEntry:
    """Something in a menu's folder that the device does not list because of its name."""

    menu: Menu
    name: str
    shown_name: str
    """The name that it gets when it is shown."""


def hidden_name(profile: Profile, rule: MenuRule, name: str) -> str | None:
    """The name under which the device does not list an entry; None where no pattern gives one.

    A leading dot comes first where the device heeds it: computers hide such names too.
    """
    fold = profile.volumes[rule.root.volume].names == "fat"
    for before, after in _affixes(rule):
        hidden = before + name + after
        is_entry = rule.entries == "folders" or matches_any(hidden, rule.match, fold=fold)
        if is_entry and matches_any(hidden, rule.hide, fold=fold):
            return hidden
    return None


def shown_name(profile: Profile, rule: MenuRule, hidden: str) -> str | None:
    """The name that an entry had before it was hidden; None where it was never one."""
    fold = profile.volumes[rule.root.volume].names == "fat"
    for before, after in _affixes(rule):
        name = hidden[len(before) : len(hidden) - len(after)]
        if hidden != before + name + after or matches_any(name, rule.hide, fold=fold):
            continue
        if find_fault(name, profile.volumes[rule.root.volume].names) is None:
            return name
    return None


def _affixes(rule: MenuRule) -> Iterator[tuple[str, str]]:
    """What patterns such as `.*`, `zz-*` and `*~` want before and after a name, the dot first."""
    plain = [glob for glob in rule.hide if glob.count("*") == 1 and not set("?[{") & set(glob)]
    for glob in sorted(plain, key=lambda glob: glob != ".*"):
        before, _, after = glob.partition("*")
        if before or after:
            yield before, after


def list_hidden(tree: Tree, profile: Profile, menu: Menu) -> tuple[HiddenEntry, ...]:
    """What a menu's folder holds that is an entry but for its name."""
    if menu.is_missing:
        return ()
    rule, fold = menu.rule, profile.volumes[menu.root.volume].names == "fat"
    wanted = "folder" if rule.entries == "folders" else "file"
    found = []
    for item in sorted(tree.list(menu.root), key=lambda item: item.name):
        is_own = item.name != LEDGER_FOLDER and not item.name.startswith(_HOST_LITTER)
        if item.kind != wanted or not is_own or not matches_any(item.name, rule.hide, fold=fold):
            continue
        name = shown_name(profile, rule, item.name)
        if name is not None and (wanted == "folder" or matches_any(item.name, rule.match, fold=fold)):
            found.append(HiddenEntry(menu, item.name, name))
    return tuple(found)


def reveal(tree: Tree, profile: Profile, hidden: HiddenEntry) -> tuple[Profile, Menu, Entry]:
    """The profile under which that one hidden entry is listed, its menu, and the entry.

    Raises:
        EntryError: it is no longer there.
    """
    rule = hidden.menu.rule
    open_rule = replace(rule, hide=tuple(_hide_others(tree, profile, hidden)))
    menus = tuple(open_rule if one.id == rule.id else one for one in profile.menus)
    open_profile = replace(profile, menus=menus)
    for menu in read_rule_menus(tree, open_profile, open_rule, labels=False):
        for entry in menu.entries:
            if menu.root == hidden.menu.root and entry.name == hidden.name:
                return open_profile, menu, entry
    raise EntryError(f"the hidden entry {shown(hidden.name)} is no longer there; nothing was changed")


def _hide_others(tree: Tree, profile: Profile, hidden: HiddenEntry) -> Iterator[str]:
    """For every other hidden name, where this rule looks for entries or for menus, a glob it alone fits."""
    rule = hidden.menu.rule
    names = profile.volumes[rule.root.volume].names
    menus = read_rule_menus(tree, profile, rule, labels=False)
    folders = {menu.root for menu in menus if not menu.is_missing}
    head, parent, _ = rule.root.path.partition("{parent}")
    if parent:
        folders.add(VolumePath(rule.root.volume, head.rpartition("/")[0]))
    found = {item.name for folder in folders if tree.stat(folder) is not None for item in tree.list(folder)}
    for name in sorted(found):
        is_other = fold_name(name, names) != fold_name(hidden.name, names)
        if is_other and matches_any(name, rule.hide, fold=names == "fat"):
            yield "".join(f"[{char}]" if char in "*?[{" else char for char in name)

"""Reads the menus of a card: the entries as the device lists them, with what it shows for each.

Names come first and cost one listing for each folder; labels open manifests and may come later. A malformed
manifest never hides a menu: names are shown instead, and the menu says why.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbench.card.entry import Entry, Menu, stem_of
from workbench.card.entry_set import EntrySet
from workbench.card.globs import matches_any
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, NamesRule, Profile
from workbench.card.roster import fold_case
from workbench.card.tree import Item, Tree
from workbench.errors import CardError, EntryError
from workbench.manifests.selector import Token
from workbench.order.collation import sort_key
from workbench.order.prefixes import SEPARATORS, split_prefix
from workbench.shown import shown
from workbench.values import replace

__all__ = ["Entry", "Menu", "find_entry", "locate_entry", "read_menus", "read_rule_menus", "stem_of"]


def read_menus(
    tree: Tree, profile: Profile, menu_id: str | None = None, *, labels: bool = True
) -> tuple[Menu, ...]:
    """The menus in the profile's order; those of `{parent}` folders by name.

    Args:
        menu_id: only this rule's menus (`tales`), or only this menu (`tales/Sea`).
        labels: also read what the device shows; without, every label is the name.

    Raises:
        EntryError: no menu has that id.
        CardError: the volume of every menu asked for is absent.
    """
    rules = [rule for rule in profile.menus if menu_id is None or menu_id.split("/")[0] == rule.id]
    there = [rule for rule in rules if rule.root.volume in tree.roles()]
    if rules and not there:
        roles = ", ".join(dict.fromkeys(rule.root.volume for rule in rules))
        raise CardError(f"the volume {shown(roles)} is absent, so its menus cannot be read. Mount it first.")
    menus = [menu for rule in there for menu in read_rule_menus(tree, profile, rule, labels=labels)]
    if menu_id is None:
        return tuple(menus)
    wanted = [menu for menu in menus if menu_id in (menu.id, menu.rule.id)]
    if not wanted:
        known = ", ".join(shown(menu.id) for menu in menus) or ", ".join(rule.id for rule in profile.menus)
        raise EntryError(f"there is no menu {shown(menu_id)!r} on this card; it has: {known}")
    return tuple(wanted)


def read_rule_menus(tree: Tree, profile: Profile, rule: MenuRule, *, labels: bool) -> tuple[Menu, ...]:
    """The menus that one rule makes: one, or one for each `{parent}` folder."""
    names = profile.volumes[rule.root.volume].names
    menus = tuple(
        _read_menu(tree, rule, root, parent, names) for root, parent in _find_roots(tree, rule, names)
    )
    return _with_labels(tree, profile, rule, menus) if labels and rule.label is not None else menus


def _find_roots(tree: Tree, rule: MenuRule, names: NamesRule) -> Iterator[tuple[VolumePath, str | None]]:
    """The folders that are menus, each with what `{parent}` stands for."""
    head, slash, tail = rule.root.path.partition("{parent}")
    if not slash:
        yield VolumePath(rule.root.volume, rule.root.path), None
        return
    folder, _, before = head.rpartition("/")
    after, _, rest = tail.partition("/")
    token = Token(before, "parent", after)
    for item in _list(tree, VolumePath(rule.root.volume, folder)):
        found = token.match(item.name)
        if found is None or matches_any(item.name, rule.hide, fold=names == "fat"):
            continue
        root = item.at.child(rest) if rest else item.at
        if _kind(tree, item) == "folder" and _is_folder(tree, root):
            yield root, found["parent"]


def _list(tree: Tree, folder: VolumePath) -> list[Item]:
    if not _is_folder(tree, folder):
        return []
    return sorted(tree.list(folder), key=lambda item: item.name)


def _is_folder(tree: Tree, at: VolumePath) -> bool:
    item = tree.stat(at)
    return item is not None and _kind(tree, item) == "folder"


def _kind(tree: Tree, item: Item) -> str:
    """What it is once links within the volume are followed."""
    if item.kind != "link":
        return item.kind
    try:
        target = tree.stat(tree.resolve(item.at))
    except CardError:
        return "link"
    return target.kind if target is not None else "link"


def _read_menu(tree: Tree, rule: MenuRule, root: VolumePath, parent: str | None, names: NamesRule) -> Menu:
    menu_id = rule.id if parent is None else f"{rule.id}/{parent}"
    if not _is_folder(tree, root):
        return Menu(menu_id, rule, root, rule.order, (), parent, is_missing=True)
    root = tree.resolve(root)
    wanted = "folder" if rule.entries == "folders" else "file"
    fold = names == "fat"
    found = [
        item.name
        for item in tree.list(root)
        if not matches_any(item.name, rule.hide, fold=fold)
        and (wanted == "folder" or matches_any(item.name, rule.match, fold=fold))
        and _kind(tree, item) == wanted
    ]
    if rule.order != "directory":
        found.sort(key=sort_key(rule.order))
    return Menu(menu_id, rule, root, rule.order, _make_entries(rule, root, found), parent)


def _make_entries(rule: MenuRule, root: VolumePath, names: Sequence[str]) -> tuple[Entry, ...]:
    entries = []
    separators = tuple(one for one in dict.fromkeys((rule.prefix.separator, *SEPARATORS)) if one)
    numbered: dict[str, list[str]] = {}
    for name in names:
        numbered.setdefault(_number_form(name), []).append(name)
    for position, name in enumerate(names, 1):
        # Three of one form are enough to say that names are numbered; all of them would cost their square.
        siblings = [other for other in numbered[_number_form(name)][:4] if other != name]
        stem = stem_of(name, rule)
        prefix, _ = split_prefix(stem, separators, siblings)  # a suffix is no name: `aa.page` has no prefix
        label = name if rule.prefix.shown else name[len(prefix) :]
        entries.append(Entry(root.child(name), name, stem, label, prefix, position))
    return tuple(entries)


def _number_form(name: str) -> str:
    """How many digits a name starts with, and what follows them: `2 ` for `07 Boats`."""
    rest = name.lstrip("0123456789")
    return f"{len(name) - len(rest)}{rest[:1]}" if len(rest) < len(name) else ""


def _with_labels(tree: Tree, profile: Profile, rule: MenuRule, menus: tuple[Menu, ...]) -> tuple[Menu, ...]:
    from workbench.card.labels import LabelReader

    assert rule.label is not None
    reader = LabelReader(tree, profile, EntrySet(rule, menus, profile))
    labels = reader.read(rule.label)
    return tuple(
        replace(
            menu,
            entries=tuple(
                replace(entry, label=labels[entry.at], has_label=True) if entry.at in labels else entry
                for entry in menu.entries
            ),
            label_error=reader.errors.get(menu.parent) or reader.errors.get(None),
        )
        for menu in menus
    )


def find_entry(menus: Sequence[Menu], text: str) -> tuple[Menu, Entry]:
    """The entry that a person means: by exact name, else by case, by composed form, by stem, by label.

    `MENU:NAME` says in which menu to look.

    Raises:
        EntryError: none fits, or several do; with the candidates.
    """
    found = _find_best([(menu, entry) for menu in menus for entry in menu.entries], text)
    if not found and ":" in text:
        # The menu's id may hold a colon too (a folder's name, for {parent}): every place is tried.
        for at in (at for at, char in enumerate(text) if char == ":"):
            inside = [
                menu for menu in menus if fold_case(text[:at]) in (fold_case(menu.id), menu.rule.id.upper())
            ]
            found += _find_best([(menu, entry) for menu in inside for entry in menu.entries], text[at + 1 :])
    if len(found) == 1:
        return found[0]
    if found:
        raise EntryError(
            f"{shown(text)!r} could be any of: {_name_all(found)}; nothing was changed. "
            "Write the whole name, or MENU:NAME."
        )
    raise EntryError(f"there is no entry {shown(text)!r}; nothing was changed. {_suggest(menus, text)}")


def locate_entry(tree: Tree, profile: Profile, text: str, menu_id: str | None = None) -> tuple[Menu, Entry]:
    """`find_entry` on the card itself; manifests with labels are opened only if no name fits.

    Raises:
        EntryError: none fits, or several do; with the candidates.
        CardError: as `read_menus`.
    """
    try:
        return find_entry(read_menus(tree, profile, menu_id, labels=False), text)
    except EntryError:
        return find_entry(read_menus(tree, profile, menu_id), text)


def _find_best(pool: Sequence[tuple[Menu, Entry]], text: str) -> list[tuple[Menu, Entry]]:
    """What fits in the first way in which anything does."""
    import unicodedata

    def fold(name: str) -> str:
        return fold_case(unicodedata.normalize("NFC", name))

    folded, cased = fold(text), fold_case(text)
    ways = (
        lambda entry: entry.name == text,
        lambda entry: fold_case(entry.name) == cased,
        lambda entry: fold(entry.name) == folded,
        lambda entry: entry.stem == text,
        lambda entry: fold(entry.stem) == folded,
        lambda entry: entry.label == text,
        lambda entry: fold(entry.label) == folded,
        lambda entry: bool(entry.prefix) and fold(entry.name[len(entry.prefix) :]) == folded,
    )
    for fits in ways:
        found = [(menu, entry) for menu, entry in pool if fits(entry)]
        if found:
            return found
    return []


def _name_all(found: Sequence[tuple[Menu, Entry]]) -> str:
    names = [f"{shown(menu.id)}:{shown(entry.name)}" for menu, entry in found[:8]]
    return ", ".join(names) + (f" and {len(found) - 8} more" if len(found) > 8 else "")


def _suggest(menus: Sequence[Menu], text: str) -> str:
    from difflib import get_close_matches

    names = {entry.name.casefold(): entry.name for menu in menus for entry in menu.entries}
    names |= {entry.label.casefold(): entry.name for menu in menus for entry in menu.entries}
    close = dict.fromkeys(names[match] for match in get_close_matches(text.casefold(), names, 3, 0.5))
    if not close:
        return "See: cardwright menu CARD"
    return "The closest: " + ", ".join(map(shown, close)) + "."

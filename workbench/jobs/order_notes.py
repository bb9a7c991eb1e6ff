"""What a person should know of new prefixes before they are written: how they will look, how they sort."""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.menu import Menu
from workbench.order.collation import sort_names
from workbench.shown import shown

_SOME = 3


def say_prefixes(menu: Menu, renames: Mapping[str, str]) -> tuple[str, ...]:
    """Sentences about the new names of a menu; none where nothing is renamed."""
    rests = {entry.name: entry.name[len(entry.prefix) :] for entry in menu.entries}
    prefixed = {old: new for old, new in renames.items() if new != rests[old]}
    return (*_say_look(menu, prefixed, rests), *_say_separator(menu, prefixed, rests))


def say_stripped(menu: Menu, renames: Mapping[str, str]) -> tuple[str, ...]:
    """Whether the order changes once the prefixes are gone."""
    names = [renames.get(entry.name, entry.name) for entry in menu.entries]
    after = sort_names(names, menu.order)
    if names == after:
        return ()
    first = ", ".join(map(shown, after[:_SOME]))
    return (f"The bare names sort otherwise: the menu will start with {first}.",)


def _say_look(menu: Menu, prefixed: Mapping[str, str], rests: Mapping[str, str]) -> tuple[str, ...]:
    """What the device's screen will show, where it shows names and not labels of their own."""
    labelled = {entry.name for entry in menu.entries if entry.has_label}
    bare = {old: new for old, new in prefixed.items() if old not in labelled}
    if not bare or (menu.rule.label is not None and not labelled):
        # With labels in a manifest that was not read, nobody knows here which entries have one.
        return ()
    old, new = next(iter(bare.items()))
    more = f", and so on for {len(bare)} entries" if len(bare) > 1 else ""
    if not menu.rule.prefix.shown:
        return (f"The device strips the prefix: its screen will show {shown(rests[old])}{more}.",)
    return (f"The device shows the name with its prefix: {shown(new)}{more}.",)


def _say_separator(menu: Menu, prefixed: Mapping[str, str], rests: Mapping[str, str]) -> tuple[str, ...]:
    signs = {new[: -len(rests[old])][-1:] for old, new in prefixed.items()}
    notes = []
    if "_" in signs and menu.order != "letters":
        notes.append(
            "'_' sorts after digits and capitals, so 05_A comes after 050: keep all numbers equally wide."
        )
    if "_" in signs and menu.order == "letters":
        notes.append("'_' sorts before letters on this device and after capitals on others.")
    if "." in signs:
        notes.append(
            "Some computers take what follows the last '.' of a name for its suffix, and may hide it."
        )
    return tuple(notes)

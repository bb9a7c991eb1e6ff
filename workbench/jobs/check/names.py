"""Rules about names that other hosts cannot keep, or take for one another.

Microsoft, "Naming Files, Paths, and Namespaces"; exFAT specification 7.7.3. Linux writes such names; the
owner's computer may be unable to open them.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Sequence

from workbench.card.entry import Entry, Menu
from workbench.card.names import find_fault, fold_name, suggest_name
from workbench.card.paths import VolumePath
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.remedies import renaming
from workbench.jobs.check.rule import Rule
from workbench.shown import shown

ILLEGAL = Rule("illegal-name", "warning", "has a name that other computers cannot keep or open")
COLLIDING = Rule("colliding-names", "error", "has a name that is the same as another one's to the device")
TOO_LONG = Rule("long-name", "warning", "has a name that is longer than the device takes")
RULES = (ILLEGAL, COLLIDING, TOO_LONG)

_SUSPECT = re.compile(
    r"[\x00-\x1f\"*:<>?\\|\ud800-\udfff]|[. ]\Z|\A "
    r"|\A(?i:con|prn|aux|nul|com[1-9¹²³]|lpt[1-9¹²³]|conin\$|conout\$)"
)
_LONG = 120
"""Characters from which on a name's length is counted exactly."""


def find(card: CheckedCard) -> Iterator[Finding]:
    """Names on all volumes, folder by folder."""
    entries = {entry.at: (menu, entry) for menu in card.menus for entry in menu.entries}
    for volume in card.roles:
        for folder, listing in card.folders(volume).items():
            names = [name for name, _ in listing]
            here = VolumePath(volume, folder)
            for name in names:
                if _SUSPECT.search(name) or len(name) > _LONG:
                    yield from _judge(card, here, name, entries)
            yield from _find_collisions(card, here, names)
    yield from _find_long(card)


def _judge(
    card: CheckedCard, folder: VolumePath, name: str, entries: dict[VolumePath, tuple[Menu, Entry]]
) -> Iterator[Finding]:
    fault = find_fault(name, "fat")
    if fault is None:
        return
    at = folder.child(name)
    there = entries.get(at)
    remedy = None
    if there is not None:
        taken = [one for one in card.names_in(folder) if one != name]
        better = suggest_name(name, "fat", there[0].rule.prefix.limit, taken)
        remedy = renaming(there[0].id, name, better)
    yield ILLEGAL.found(at, f"the name {fault}", remedy=remedy)


def _find_collisions(card: CheckedCard, folder: VolumePath, names: Sequence[str]) -> Iterator[Finding]:
    """Names that FAT takes for one, and composed and decomposed forms of one name."""
    folded: dict[str, str] = {}
    is_fat = card.profile.volumes[folder.volume].names == "fat"
    if len({name.upper() for name in names}) == len(names) and all(map(str.isascii, names)):
        return
    for name in names:
        key = fold_name(name, "fat")
        other = folded.setdefault(key, name)
        if other == name:
            continue
        same_form = unicodedata.normalize("NFC", name) == unicodedata.normalize("NFC", other)
        why = "in another way of writing its accents" if same_form else "in another case"
        if is_fat or same_form:
            message = (
                f"has the same name as {shown(other)!r} {why}; a card or computer may keep only one of them"
            )
        else:
            message = f"has the name of {shown(other)!r} {why}; other computers may keep only one of them"
        yield COLLIDING.found(folder.child(name), message, level=None if is_fat else "warning")


def _find_long(card: CheckedCard) -> Iterator[Finding]:
    for menu in card.menus:
        limit = menu.rule.prefix.limit
        names = card.profile.volumes[menu.root.volume].names
        for entry in menu.entries:
            if len(entry.name) * 2 > limit and find_fault(entry.name, names, limit) is not None:
                fault = find_fault(entry.name, names, limit) or ""
                if "too long" in fault:
                    yield TOO_LONG.found(entry.at, f"the name {fault}")

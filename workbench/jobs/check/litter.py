"""Rules about what desktop systems leave on cards, and what a disk check leaves, which is never removed."""

from __future__ import annotations

import re
from collections.abc import Iterator

from workbench.card.globs import matches_any
from workbench.card.paths import VolumePath
from workbench.errors import CardError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.remedies import putting_away
from workbench.jobs.check.rule import Rule

LITTER = Rule("host-litter", "note", "was left by a computer and is of no use to the device")
LOST = Rule("lost-pieces", "warning", "holds pieces of files that a disk check has found: a sign of damage")
RULES = (LITTER, LOST)

_FILES = frozenset((".ds_store", "thumbs.db", "ehthumbs.db", ".apdisk", ".localized"))
_FOLDERS = frozenset(("__macosx", ".spotlight-v100", ".fseventsd", ".documentrevisions-v100"))
_LEFT_ALONE = {
    ".trashes": "holds what a computer took for deleted; empty the trash there",
    "$recycle.bin": "holds what a computer took for deleted; empty the trash there",
    "system volume information": "is made again by every Windows computer",
}
"""Common practice, no source: names that desktop systems use on media that can be taken out."""
_LOST = re.compile(r"found\.\d{3}|lost\.dir", re.IGNORECASE)
_DOUBLE = b"\x00\x05\x16\x07\x00\x02\x00\x00"
"""AppleDouble's magic and version (RFC 1740)."""
_SUSPECT = re.compile(
    r"(?im)^(?:\._.*|\.ds_store|(?:eh)?thumbs\.db|\.apdisk|\.localized|desktop\.ini|__macosx|\.spotlight-v100"
    r"|\.fseventsd|\.documentrevisions-v100|\.trashes|\$recycle\.bin|system volume information|found\.\d{3}"
    r"|lost\.dir)$"
)


def find(card: CheckedCard) -> Iterator[Finding]:
    """What lies about on each volume; what is in such a folder is not listed again."""
    for volume in card.roles:
        closed: list[str] = []
        for folder, listing in card.folders(volume).items():
            if any(folder == one or folder.startswith(one + "/") for one in closed):
                continue
            if not _SUSPECT.search("\n".join([name for name, _ in listing])):
                continue
            names = frozenset(name.lower() for name, _ in listing)
            for name, is_folder in listing:
                at = VolumePath(volume, f"{folder}/{name}" if folder else name)
                one = _judge(card, at, is_folder, names)
                if one is not None:
                    yield one
                    closed += [at.path] if is_folder else []


def _judge(card: CheckedCard, at: VolumePath, is_folder: bool, names: frozenset[str]) -> Finding | None:
    name = at.name.lower()
    if _LOST.fullmatch(name):
        return _judge_lost(card, at) if is_folder else None
    if name in _LEFT_ALONE and is_folder:
        return LITTER.found(at, _LEFT_ALONE[name])
    if is_folder:
        return _litter(card, at, "was left by a computer") if name in _FOLDERS else None
    if name in _FILES or (name == "desktop.ini" and _is_desktop(card, at)):
        return _litter(card, at, "was left by a computer")
    if name.startswith("._") and len(name) > 2 and (name[2:] in names or _has_magic(card, at)):
        return _litter(card, at, "holds what a Mac remembers of another file")
    return None


def _judge_lost(card: CheckedCard, at: VolumePath) -> Finding | None:
    if at.path.count("/") and at.name.lower() != "lost.dir":
        return None
    count = len(card.names_in(at))
    if not count:
        return LOST.found(at, "is empty: nothing was lost, but a disk check was needed", level="note")
    return LOST.found(at, f"holds {count} pieces of files; look at them before you take them away")


def _litter(card: CheckedCard, at: VolumePath, what: str) -> Finding:
    is_listed = any(at == entry.at for menu in card.menus if menu.root == at.parent for entry in menu.entries)
    said = f"{what}, and the device lists it in a menu" if is_listed else what
    return LITTER.found(
        at,
        said,
        remedy=putting_away(at),
        level="warning" if is_listed else None,
    )


def _has_magic(card: CheckedCard, at: VolumePath) -> bool:
    try:
        return card.tree.read(at, len(_DOUBLE)) == _DOUBLE
    except CardError:
        return False


def _is_desktop(card: CheckedCard, at: VolumePath) -> bool:
    """A settings file of the device may have that name: Windows writes this section into its own."""
    if any(manifest.at == at for manifest in card.manifests):
        return False
    if any(matches_any(at.name, menu.rule.match, fold=True) for menu in card.menus if menu.root == at.parent):
        return False
    try:
        raw = card.tree.read(at, 4096)
    except CardError:
        return False
    return b".shellclassinfo" in raw.replace(b"\0", b"").lower()

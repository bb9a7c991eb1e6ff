"""How the places of a pack fit what is on the card: names that are taken, files that are there, and whose."""

from __future__ import annotations

import hashlib

from workbench.card.globs import Glob, translate
from workbench.card.names import find_collisions, find_fault
from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Item, Tree
from workbench.errors import CardError
from workbench.shown import shown


class CardFit:
    """One card, asked about many places."""

    def __init__(self, tree: Tree, profile: Profile) -> None:
        self._tree = tree
        self._profile = profile
        self._folders: dict[VolumePath, dict[str, Item] | None] = {}
        self._kinds = _list_kinds(profile)

    def find_fault(self, at: VolumePath) -> str:
        """Why a file cannot go there, as the end of a sentence; empty where it can."""
        rule = self._profile.volumes[at.volume].names
        parts = at.path.split("/")
        if parts[0].upper() == LEDGER_FOLDER.upper():
            return "would write into Cardwright's own record of changes"
        folder = VolumePath(at.volume, "")
        for number, name in enumerate(parts, 1):
            fault = find_fault(name, rule)
            if fault is not None:
                return f"would be called {shown(name)!r}, which {fault}"
            there = self._list(folder)
            if there is None:
                return ""
            item = there.get(name)
            if item is None:
                same = find_collisions(name, there, rule)
                return (
                    f"is the same to the device as {shown(str(folder.child(same[0])))}, which is there"
                    if same
                    else ""
                )
            is_last = number == len(parts)
            if item.kind == "link":
                return f"would go through {shown(str(item.at))}, which is a link"
            if is_last and item.kind != "file":
                return f"is a file, and {shown(str(item.at))} is a {item.kind}"
            if not is_last and item.kind != "folder":
                return f"needs a folder where {shown(str(item.at))} is a file"
            folder = item.at
        return ""

    def file_at(self, at: VolumePath) -> Item | None:
        """The file that is there, spelled so."""
        there = self._list(at.parent)
        return None if there is None else there.get(at.name)

    def missing_folders(self, at: VolumePath) -> list[VolumePath]:
        """The folders on the way to a place that are not there, outermost first."""
        missing: list[VolumePath] = []
        folder = at.parent
        while folder.path and self._list(folder) is None:
            missing.insert(0, folder)
            folder = folder.parent
        return missing

    def kind_of(self, at: VolumePath) -> str:
        """What the profile says of a place: a manifest, a saved game, …; empty where it says nothing."""
        for volume, glob, kind in self._kinds:
            if volume == at.volume and glob.match(at.path) is not None:
                return kind
        return ""

    def hash_of(self, item: Item) -> str:
        """SHA-256 of a file on the card, read piece by piece."""
        return hash_file(self._tree, item)

    def _list(self, folder: VolumePath) -> dict[str, Item] | None:
        """What is in a folder; None where there is no such folder."""
        if folder not in self._folders:
            self._folders[folder] = None
            above = self._list(folder.parent) if folder.path else {}
            is_there = not folder.path or (above is not None and folder.name in above)
            if is_there and (not folder.path or above is None or above[folder.name].kind == "folder"):
                self._folders[folder] = {item.name: item for item in self._tree.list(folder)}
        return self._folders[folder]


def hash_file(tree: Tree, item: Item) -> str:
    """SHA-256 of a file of a tree in hex; a large one on a card is not carried through memory."""
    card = getattr(tree, "card", None)
    if card is None:
        return hashlib.sha256(tree.read(item.at)).hexdigest()
    try:
        with open(card.volume(item.at.volume).root / item.at.path, "rb") as file:
            return hashlib.file_digest(file, "sha256").hexdigest()
    except OSError as error:
        raise CardError(
            f"{item.at} cannot be read: {error.strerror or error}; nothing was changed", path=str(item.at)
        ) from error


def _list_kinds(profile: Profile) -> list[tuple[str, Glob, str]]:
    found: list[tuple[FilePattern, str]] = []
    for menu in profile.menus:
        found += [(one.file, "a manifest with rows of your own") for one in menu.references]
        found += [(menu.label.file, "a manifest with rows of your own")] if menu.label is not None else []
        found += [(one, "a saved game or setting of yours") for one in menu.companions]
    found += [(one, "a file that the device writes itself") for one in profile.device.rewritten]
    return [
        (pattern.volume, translate(pattern.path, fold=profile.volumes[pattern.volume].names == "fat"), kind)
        for pattern, kind in found
        if pattern.volume in profile.volumes
    ]

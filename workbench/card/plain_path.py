"""Paths in which nothing has to be undone, as most manifests hold them: read by their names alone.

What `path_rule` says of any path it says of these too, in a part of the time: no character is looked at, and
a text that stands in many manifests of one folder is read once.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbench.card.entry import Entry
from workbench.card.entry_set import EntrySet, Located
from workbench.card.path_hit import PathHit, decide
from workbench.card.paths import VolumePath
from workbench.card.presence import Presence

Mounts = Sequence[tuple[tuple[str, ...], str]]
"""Device components → volume, deepest first."""

_Place = tuple[str, list[str], int]
"""A volume, the names below its root, and how many of these do not stand in the text. Fewer than none: so
many of the text's own lead to the volume."""


def is_plain_path(text: str) -> bool:
    """Whether a text can be read as one path only, and means what it says, name by name."""
    if "%" in text or "//" in text or "/." in text or text in ("", "/") or text[0] in ".$":
        return False
    return not (":" in text and text[:5].lower() == "file:")


class PlainPaths:
    """Resolves plain paths for the entries of one rule, where no menu lies behind a link."""

    def __init__(self, entries: EntrySet, mounts: Mounts, presence: Presence) -> None:
        self._entries = entries
        self._mounts = mounts
        self._homes = {volume: list(parts) for parts, volume in mounts}
        self._presence = presence
        self._manifest: VolumePath | None = None
        """Who was asked about last."""
        self._bases: list[list[str]] = []
        self._known: dict[str, PathHit | None] = {}
        self._by_folder: dict[tuple[str, str], tuple[list[list[str]], dict[str, PathHit | None]]] = {}

    def find(self, text: str, manifest: VolumePath) -> PathHit | None:
        """What the text, one plain path, leads to in that manifest."""
        if manifest is not self._manifest:
            self._enter(manifest)
        try:
            return self._known[text]
        except KeyError:
            hit = self._known[text] = self._find(text, manifest)
            return hit

    def _enter(self, manifest: VolumePath) -> None:
        folder = manifest.volume, manifest.path.rpartition("/")[0]
        if folder not in self._by_folder:
            volumes = dict.fromkeys((manifest.volume, *(menu.root.volume for menu in self._entries.menus)))
            bases = [[*self._homes[manifest.volume], *filter(None, folder[1].split("/"))]]
            bases += [self._homes[volume] for volume in volumes]
            self._by_folder[folder] = bases, {}
        self._bases, self._known = self._by_folder[folder]
        self._manifest = manifest

    def _find(self, text: str, manifest: VolumePath) -> PathHit | None:
        names = text.strip("/").split("/")
        if not text.startswith("/"):
            return self._find_relative(names)
        place = self._mount(names, 0)
        if place is None and self._homes[manifest.volume][0].startswith("\0"):
            place = manifest.volume, names, 0
        return self._hit(names, place, 1)

    def _find_relative(self, names: list[str]) -> PathHit | None:
        places = [self._mount([*base, *names], len(base)) for base in self._bases]
        hits = [self._hit(names, place, 0) for place in places]
        entries = self._entries.by_name.find(names[0])
        in_menu = _make_hit(names, Located(0, tuple(entries)), 0, 0) if entries else None
        return decide(
            hits,
            in_menu,
            lambda at: self._is_there(places[at]),
            lambda: self._is_in_menu(names, entries[0]),
        )

    def _mount(self, parts: list[str], lead: int) -> _Place | None:
        """Where these names of the device lead; the first `lead` of them do not stand in the text."""
        for mount, volume in self._mounts:
            size = len(mount)
            if len(parts) > size and tuple(parts[:size]) == mount:
                return volume, parts[size:], lead - size
        return None

    def _hit(self, names: list[str], place: _Place | None, first: int) -> PathHit | None:
        if place is None:
            return None
        volume, parts, lead = place
        located = self._entries.locate(volume, parts)
        if located is None or located.index < lead:
            return None
        return _make_hit(names, located, located.index - lead, first)

    def _is_there(self, place: _Place | None) -> bool:
        """From the top down: in a folder that is missing nobody needs to look."""
        if place is None:
            return False
        volume, parts, _ = place
        path = ""
        for part in parts:
            path = f"{path}/{part}" if path else part
            if not self._presence.has(volume, path):
                return False
        return True

    def _is_in_menu(self, names: list[str], entry: Entry) -> bool:
        return len(names) == 1 or self._presence.has(entry.at.volume, "/".join((entry.at.path, *names[1:])))


def _make_hit(names: list[str], located: Located, index: int, first: int) -> PathHit:
    """`index`: the name that names the entry; `first`: the character at which the names start."""
    start = first + sum(map(len, names[:index])) + index + len(located.before)
    end = start + len(names[index]) - len(located.before) - len(located.after)
    return PathHit(located.entries, start, end, located.piece, located.before, located.after, "plain")

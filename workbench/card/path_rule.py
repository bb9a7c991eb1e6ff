"""What a `{path}` leads to: paths of the device, paths relative to a folder, paths led by a variable.

A path names an entry only if it really leads to it or below it: a component that merely equals the entry's
name does not count. Everything is worked out in the device's own view of its file systems.
"""

from __future__ import annotations

from collections.abc import Sequence

from workbench.card.entry_set import EntrySet, Located
from workbench.card.path_hit import PathHit, decide
from workbench.card.path_text import NOWHERE, Component, PathText, read_path
from workbench.card.paths import VolumePath
from workbench.card.plain_path import PlainPaths, is_plain_path
from workbench.card.presence import Presence
from workbench.card.profile import Profile
from workbench.card.reference import Coding
from workbench.card.tree import Tree

_FROM_FOLDER = NOWHERE - 1
"""The span of a component that comes from the folder which a relative path starts in."""


class PathRule:
    """Resolves the paths that manifests hold, for the entries of one rule."""

    def __init__(self, tree: Tree, profile: Profile, entries: EntrySet) -> None:
        self._variables = profile.variables
        self._entries = entries
        self._mounts = _find_mounts(profile)
        """Device components → volume, deepest first."""
        self._homes = {volume: parts for parts, volume in self._mounts}
        self._presence = Presence(tree)
        self._based: dict[VolumePath, list[tuple[Component, ...]]] = {}
        self._links = _find_links(entries)
        self._plain = PlainPaths(entries, self._mounts, self._presence)

    def find(self, text: str, start: int, end: int, manifest: VolumePath) -> PathHit | None:
        """The entry that characters `start:end` lead to, read as a path in that manifest."""
        if end - start == len(text) and not self._links and is_plain_path(text):
            return self._plain.find(text, manifest)
        return self.find_any(text, start, end, manifest)

    def find_any(self, text: str, start: int, end: int, manifest: VolumePath) -> PathHit | None:
        """As `find`, character by character, whatever stands there."""
        for path in read_path(text, start, end, self._variables):
            if not path.components:
                continue
            hit = (
                self._find_absolute(path, manifest)
                if path.is_absolute
                else self._find_relative(path, manifest)
            )
            if hit is not None:
                return hit
        return None

    def _find_absolute(self, path: PathText, manifest: VolumePath) -> PathHit | None:
        place = self._to_volume(_normalise(path.components))
        home = self._homes[manifest.volume]
        if place is None and home[0].startswith("\0"):
            place = manifest.volume, _normalise(path.components)
        return self._hit(path, place)

    def _find_relative(self, path: PathText, manifest: VolumePath) -> PathHit | None:
        places = [self._to_volume(_normalise(base + path.components)) for base in self._bases(manifest)]
        hits = [self._hit(path, place) for place in places]
        in_menu = self._hit_in_menus(path)
        return decide(
            hits,
            in_menu,
            lambda at: self._is_there(places[at]),
            lambda: in_menu is not None and self._is_there_in_menu(path, in_menu),
        )

    def _bases(self, manifest: VolumePath) -> list[tuple[Component, ...]]:
        """The manifest's folder, its volume's root, the roots of the menus' volumes."""
        volumes = dict.fromkeys((manifest.volume, *(menu.root.volume for menu in self._entries.menus)))
        known = self._based.get(manifest)
        if known is not None:
            return known
        folder = [part for part in manifest.parent.path.split("/") if part]
        starts = [[*self._homes[manifest.volume], *folder]]
        starts += [list(self._homes[volume]) for volume in volumes]
        bases = [tuple(Component(part, _FROM_FOLDER, _FROM_FOLDER) for part in start) for start in starts]
        return self._based.setdefault(manifest, bases)

    def _hit_in_menus(self, path: PathText) -> PathHit | None:
        """Relative to a menu's root, the first component is the entry."""
        parts = _normalise(path.components)
        entries = self._entries.by_name.find(parts[0].text) if parts else []
        return _make_hit(path, parts, Located(0, tuple(entries))) if entries else None

    def _is_there_in_menu(self, path: PathText, hit: PathHit) -> bool:
        rest = [part.text for part in _normalise(path.components)[1:]]
        entry = hit.entries[0]
        return not rest or self._presence.has(entry.at.volume, "/".join((entry.at.path, *rest)))

    def _to_volume(self, parts: Sequence[Component]) -> tuple[str, Sequence[Component]] | None:
        for mount, volume in self._mounts:
            if len(parts) > len(mount) and all(
                part.text == name for part, name in zip(parts, mount, strict=False)
            ):
                return volume, parts[len(mount) :]
        return None

    def _hit(self, path: PathText, place: tuple[str, Sequence[Component]] | None) -> PathHit | None:
        if place is None:
            return None
        volume, parts = place
        parts = self._follow_links(volume, parts)
        located = self._entries.locate(volume, [part.text for part in parts])
        if located is None or parts[located.index].start == _FROM_FOLDER:
            return None
        return _make_hit(path, parts, located)

    def _follow_links(self, volume: str, parts: Sequence[Component]) -> Sequence[Component]:
        """The same place below a menu's real folder, where its path in the profile leads through a link."""
        for role, written, real in self._links:
            if role == volume and tuple(part.text for part in parts[: len(written)]) == written:
                folder = [Component(part, _FROM_FOLDER, _FROM_FOLDER) for part in real]
                return [*folder, *parts[len(written) :]]
        return parts

    def _is_there(self, place: tuple[str, Sequence[Component]] | None) -> bool:
        return place is not None and self._presence.has(place[0], "/".join(part.text for part in place[1]))


def _make_hit(path: PathText, parts: Sequence[Component], located: Located) -> PathHit:
    component = parts[located.index]
    start = end = NOWHERE
    if component.start >= 0:
        stop = len(component.text) - len(located.after)
        start, end = component.span(len(located.before), stop)
    coding: Coding = "percent" if path.is_encoded else "plain"
    return PathHit(located.entries, start, end, located.piece, located.before, located.after, coding)


def _normalise(components: Sequence[Component]) -> list[Component]:
    """Without `.` and `..`, as the kernel would walk where there are no links; `/..` is `/`."""
    done: list[Component] = []
    for component in components:
        if component.text == "..":
            del done[-1:]
        elif component.text != ".":
            done.append(component)
    return done


def _find_links(entries: EntrySet) -> tuple[tuple[str, tuple[str, ...], tuple[str, ...]], ...]:
    """Volume, folder as the profile writes it, and where it really lies, for menus behind a link."""
    found = []
    for menu in entries.menus:
        written = entries.rule.root.path.replace("{parent}", menu.parent or "")
        if written != menu.root.path:
            found.append((menu.root.volume, tuple(written.split("/")), tuple(menu.root.path.split("/"))))
    return tuple(found)


def _find_mounts(profile: Profile) -> list[tuple[tuple[str, ...], str]]:
    """Where the device has each volume; one that the profile does not place gets a root of its own."""
    mounts = [
        (tuple(filter(None, rule.device_path.split("/"))) if rule.device_path else ("\0" + role,), role)
        for role, rule in profile.volumes.items()
    ]
    return sorted(mounts, key=lambda mount: -len(mount[0]))

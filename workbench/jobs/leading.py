"""Where a text of a manifest leads on the card, read as the device might: the first place that is there."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbench.card.menu import Menu
from workbench.card.path_text import read_path
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardError


def find_place(
    tree: Tree, profile: Profile, menu: Menu, manifest: VolumePath, text: str
) -> VolumePath | None:
    """The file or folder that a text leads to; None where it is no path, or leads nowhere.

    Tried in turn: the device's own absolute path, then from the manifest's folder, from the root of each
    volume that could be meant, from the menu's folder.
    """
    for place in _candidates(profile, menu, manifest, text):
        try:
            if place.path and tree.stat(place) is not None:
                return place
        except CardError:
            continue
    return None


def _candidates(profile: Profile, menu: Menu, manifest: VolumePath, text: str) -> Iterator[VolumePath]:
    for path in read_path(text, 0, len(text), profile.variables):
        parts = [component.text for component in path.components]
        if any("\0" in part for part in parts):
            continue
        if path.is_absolute:
            yield from _absolute(profile, manifest, parts)
            continue
        roots = dict.fromkeys((manifest.volume, menu.root.volume))
        for base in (manifest.parent, *(VolumePath(volume, "") for volume in roots), menu.root):
            yield from _joined(base, parts)


def _absolute(profile: Profile, manifest: VolumePath, parts: Sequence[str]) -> Iterator[VolumePath]:
    mounts = [
        (role, [part for part in rule.device_path.split("/") if part])
        for role, rule in profile.volumes.items()
        if rule.device_path
    ]
    for role, mount in sorted(mounts, key=lambda one: -len(one[1])):
        if list(parts[: len(mount)]) == mount:
            yield from _joined(VolumePath(role, ""), parts[len(mount) :])
            return
    yield from _joined(VolumePath(manifest.volume, ""), parts)


def _joined(base: VolumePath, parts: Sequence[str]) -> Iterator[VolumePath]:
    """The place below a folder, `.` and `..` undone; none where that leads out of the volume."""
    done = [part for part in base.path.split("/") if part]
    for part in parts:
        if part == "..":
            if not done:
                return
            done.pop()
        elif part != ".":
            done.append(part)
    yield VolumePath(base.volume, "/".join(done))

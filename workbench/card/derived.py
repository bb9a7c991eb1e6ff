"""The files of a card that its device makes again from others (lists that it caches)."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import FilePattern, Profile
from workbench.card.tree import Tree


def list_derived(tree: Tree, profile: Profile) -> tuple[VolumePath, ...]:
    """The files on the card that the device makes again from others."""
    found = (at for pattern in profile.device.derived for at in _list_matching(tree, pattern))
    return tuple(dict.fromkeys(found))


def _list_matching(tree: Tree, pattern: FilePattern) -> Iterator[VolumePath]:
    at = VolumePath(pattern.volume, pattern.path)
    if pattern.volume not in tree.roles():
        return
    if pattern.is_plain:
        found = tree.stat(at)
        if found is not None and found.kind == "file":
            yield at
        return
    glob = translate(pattern.path, fold=True)
    top = translate(pattern.path, fold=False).prefix.rstrip("/")
    for item in tree.walk(VolumePath(pattern.volume, top)):
        if item.kind == "file" and glob.match(item.at.path) is not None:
            yield item.at

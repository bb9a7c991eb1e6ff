"""Every name on a card, folder by folder, from the one walk of its tree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from workbench.card.globs import Glob
from workbench.card.paths import VolumePath
from workbench.card.tree import Listing, Tree
from workbench.errors import CardError

__all__ = ["Listing", "NameIndex", "index_names", "list_names"]


class NameIndex:
    """Names by volume and folder (`""` is the root). No links are followed, the ledger is left out."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._volumes: dict[str, Mapping[str, Listing]] = {}

    def folders(self, volume: str) -> Mapping[str, Listing]:
        """The folders of a volume; none where it is absent."""
        if volume not in self._volumes:
            self._volumes[volume] = self._read(volume) if volume in self._tree.roles() else {}
        return self._volumes[volume]

    def find(self, volume: str, glob: Glob) -> Iterator[tuple[str, bool, Mapping[str, str]]]:
        """Paths that match, each with whether it is a folder, and the bindings."""
        for folder, listing in self.folders(volume).items():
            bindings = glob.match_folder(folder)
            if bindings is None:
                continue
            for name, is_folder in listing:
                both = glob.match_name(name, bindings)
                if both is not None:
                    yield f"{folder}/{name}" if folder else name, is_folder, both

    def resolve(self, folder: VolumePath) -> str | None:
        """The path of a folder once links are followed; None where there is none.

        Raises:
            CardError: a link leads out of the volume, or in a circle.
        """
        if folder.volume not in self._tree.roles() or self._tree.stat(folder) is None:
            return None
        return self._tree.resolve(folder).path

    def _read(self, volume: str) -> Mapping[str, Listing]:
        walk_folders = getattr(self._tree, "walk_folders", None)
        if walk_folders is not None:
            walked: Mapping[str, Listing] = walk_folders(volume)
            return walked
        folders: dict[str, list[tuple[str, bool]]] = {"": []}
        for path, is_folder in _walk(self._tree, volume):
            folder, _, name = path.rpartition("/")
            # A planned tree may tell of what was moved into a new folder before it tells of the folder.
            folders.setdefault(folder, []).append((name, is_folder))
            if is_folder:
                folders.setdefault(path, [])
        return folders


def _walk(tree: Tree, volume: str) -> Iterator[tuple[str, bool]]:
    walk_names = getattr(tree, "walk_names", None)
    if walk_names is not None:
        yield from walk_names(volume)
        return
    try:
        for item in tree.walk(VolumePath(volume, "")):
            yield item.at.path, item.kind == "folder"
    except CardError:
        # A folder that cannot be listed ends the plain walk: what was seen is what there is to say.
        return


_KEPT_AS = "_names_by_folder"
"""Where a tree carries its index about: it lives as long as the tree."""


def index_names(tree: Tree) -> NameIndex:
    """The index of a tree, made once for each tree."""
    try:
        kept: dict[str, object] = vars(tree)
    except TypeError:  # a tree without room for it
        return NameIndex(tree)
    known = kept.get(_KEPT_AS)
    if not isinstance(known, NameIndex):
        known = kept[_KEPT_AS] = NameIndex(tree)
    return known


def list_names(tree: Tree, folder: VolumePath) -> list[str]:
    """The names in a folder, from the walk where it came by there (it follows no links).

    Raises:
        CardError: there is no such folder.
    """
    listing = index_names(tree).folders(folder.volume).get(folder.path)
    if listing is None:
        return [item.name for item in tree.list(folder)]
    return [name for name, _ in listing]

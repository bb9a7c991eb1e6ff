"""Whether something is at a place of the card: asked by the thousand, answered from the walk if it can be."""

from __future__ import annotations

from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.tree import Tree
from workbench.errors import CardError


class Presence:
    """What is there, in one tree."""

    def __init__(self, tree: Tree) -> None:
        self._tree = tree
        self._known: dict[tuple[str, str], bool] = {}
        self._names: dict[tuple[str, str], frozenset[str]] = {}

    def has(self, volume: str, path: str) -> bool:
        """Whether the host finds something there."""
        known = self._known.get((volume, path))
        if known is None:
            known = self._known[volume, path] = self._look(volume, path)
        return known

    def _look(self, volume: str, path: str) -> bool:
        """Ask for the folder first: many paths share one that is not there, and few are asked for twice."""
        above, _, name = path.rpartition("/")
        if name in self._names_in(volume, above):
            return True
        if above and not self.has(volume, above):
            return False
        try:
            return self._tree.stat(VolumePath(volume, path)) is not None
        except CardError:
            return False

    def _names_in(self, volume: str, folder: str) -> frozenset[str]:
        """The names in a folder as they were walked; the host may know more of them, in another case."""
        known = self._names.get((volume, folder))
        if known is None:
            listing = index_names(self._tree).folders(volume).get(folder, ())
            known = self._names[volume, folder] = frozenset([name for name, _ in listing])
        return known

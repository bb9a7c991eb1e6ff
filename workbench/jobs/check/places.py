"""Whether a place is on the card, as the device would find it: from the one walk of the card."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from workbench.card.name_index import NameIndex
from workbench.card.names import fold_name
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.errors import CardError
from workbench.jobs.check.links import Link, find_links


class Places:
    """Every path of a card's present volumes."""

    def __init__(self, tree: Tree, profile: Profile, index: NameIndex) -> None:
        self._tree = tree
        self._profile = profile
        self._index = index
        self._paths: dict[str, frozenset[str]] = {}
        self._folded: dict[str, Mapping[str, str]] = {}
        self._links: dict[str, tuple[Link, ...]] = {}

    def spell(self, volume: str, path: str) -> str | None:
        """How the card spells a path, by any case and composed form; None where it is not there."""
        if not path or path in self._all(volume):
            return path
        found = self._by_case(volume).get(fold_name(path, "fat"))
        if found is not None or not self.links(volume):
            return found
        return path if self._is_behind_link(volume, path) else None

    def is_there(self, volume: str, path: str) -> bool:
        """Whether the device finds it: in any case where its names are FAT's, else exactly so."""
        found = self.spell(volume, path)
        return found is not None and (found == path or self._profile.volumes[volume].names == "fat")

    def links(self, volume: str) -> tuple[Link, ...]:
        """The volume's links."""
        if volume not in self._links:
            self._links[volume] = find_links(self._tree, volume)
        return self._links[volume]

    def _is_behind_link(self, volume: str, path: str) -> bool:
        try:
            return self._tree.stat(VolumePath(volume, path)) is not None
        except CardError:
            return False

    def _all(self, volume: str) -> frozenset[str]:
        if volume not in self._paths:
            self._paths[volume] = frozenset(
                f"{folder}/{name}" if folder else name
                for folder, listing in self._index.folders(volume).items()
                for name, _ in listing
            )
        return self._paths[volume]

    def _by_case(self, volume: str) -> Mapping[str, str]:
        if volume not in self._folded:
            self._folded[volume] = {fold_name(path, "fat"): path for path in self._all(volume)}
        return self._folded[volume]


def join_parts(parts: Sequence[str]) -> str | None:
    """A path of these components with `.` and `..` walked; None where it leads above the root."""
    done: list[str] = []
    for part in parts:
        if part == "..":
            if not done:
                return None
            done.pop()
        elif part not in ("", "."):
            done.append(part)
    return "/".join(done)

"""What jobs read: a card as it is (`DiskTree`) or as it will be (`changes.planned_tree.PlannedTree`).

A Tree never shows the ledger's folder and never follows a link out of its volume.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from workbench.card.paths import VolumePath
from workbench.typed import Literal, Protocol
from workbench.values import dataclass

Kind = Literal["file", "folder", "link", "other"]

Listing = Sequence[tuple[str, bool]]
"""Names in a folder, each with whether it is a folder."""


@dataclass(frozen=True, slots=True)
class Item:
    """One name in a folder."""

    at: VolumePath
    kind: Kind
    size: int
    """Bytes; 0 for folders."""
    mode: int
    """Permission bits."""
    mtime_ns: int

    @property
    def name(self) -> str:
        return self.at.name


class Tree(Protocol):
    """A card's files. Every method raises `CardError` where a folder or file cannot be read."""

    def roles(self) -> tuple[str, ...]:
        """The roles of the volumes that are present."""
        ...

    def names_rule(self, volume: str) -> Literal["fat", "exact"]:
        """The HOST's rule for names on that volume, probed: fat ignores case, exact does not."""
        ...

    def order_follows_moves(self, volume: str) -> bool:
        """Whether a folder there lists its names in the order in which they came (FAT, exFAT)."""
        ...

    def list(self, folder: VolumePath) -> tuple[Item, ...]:
        """What the folder holds, in the folder's own order."""
        ...

    def stat(self, at: VolumePath) -> Item | None:
        """The item at that place as the host finds it (case by the host's rule), a link itself, or None.

        The item's `at` carries the spelling asked for.
        """
        ...

    def read(self, at: VolumePath, limit: int | None = None) -> bytes:
        """A file's bytes (at most `limit` where given); links within the volume are followed."""
        ...

    def resolve(self, at: VolumePath) -> VolumePath:
        """The place that `at` leads to, links within the volume followed.

        Raises:
            CardError: a link leads out of the volume, or in a circle.
        """
        ...

    def walk(self, folder: VolumePath) -> Iterator[Item]:
        """Everything below the folder, depth first, folders before their content, no links followed."""
        ...

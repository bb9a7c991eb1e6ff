"""Where in a text a path names an entry, and which of several readings of a relative path counts."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from workbench.card.entry import Entry
from workbench.card.reference import Coding, Piece
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class PathHit:
    """Where in a text the name of an entry stands."""

    entries: tuple[Entry, ...]
    start: int
    end: int
    """Both `NOWHERE` where the name comes from a variable of the profile."""
    piece: Piece
    before: str
    after: str
    coding: Coding


def decide(
    hits: Sequence[PathHit | None],
    in_menu: PathHit | None,
    is_there: Callable[[int], bool],
    is_in_menu: Callable[[], bool],
) -> PathHit | None:
    """The first base under which the path is there decides; failing that, the first that fits.

    Args:
        hits: what the path names under each base: the manifest's folder, its volume, the menus' volumes.
        in_menu: what it names below a menu's own folder.
        is_there: whether the path is there under the base of that number.
        is_in_menu: the same, below the menu's folder.
    """
    if in_menu is None and not any(hits):
        return None
    if is_there(0):
        return hits[0]
    if in_menu is not None and is_in_menu():
        return in_menu
    for at in range(1, len(hits)):
        if is_there(at):
            return hits[at]
    return next((hit for hit in (hits[0], in_menu, *hits[1:]) if hit is not None), None)

"""Where a pack or a backup may be written on this computer: over nothing unasked, never onto the card."""

from __future__ import annotations

from pathlib import Path

from workbench.card.volumes import Card
from workbench.errors import CardError, UsageError


def check_host_target(card: Card, target: Path, *, replace: bool) -> None:
    """Refuse a place that would lose something.

    Raises:
        UsageError: there is something, and nobody said to write over it.
        CardError: it lies on the card, where a copy would be lost with the card and change what is copied.
    """
    place = target.parent.resolve() / target.name
    for volume in card.present:
        root = volume.root.resolve()
        if place == root or root in place.parents:
            raise CardError(
                f"{target} lies on the card itself (its volume {volume.role}): it would be lost together "
                "with the card. Nothing was written. Name a place on this computer.",
                path=str(target),
            )
    if not place.parent.is_dir():
        raise UsageError(f"there is no folder {target.parent}; nothing was written")
    if target.is_dir():
        raise UsageError(f"{target} is a folder; name a file")
    if target.exists() and not replace:
        raise UsageError(f"{target} is there already; nothing was written. Say --replace to write over it.")

"""The device itself: where this program runs on the handheld, the card is the running system's own disk.

Offered are exactly the paths that a profile names as the device's, and only where what identifies them is
there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.identify import Match, find_missing
from workbench.card.making import make_known_card
from workbench.card.profile import Profile
from workbench.card.profiles import by_precedence
from workbench.card.volumes import Card

NOTE = "This is the card of the running device: only the paths of its profile are offered, and no eject."


def find_device_cards(
    profiles: Sequence[Profile], computer: Computer, taken: Collection[Path]
) -> Iterator[Card]:
    """The live card of each profile that fits here; `taken` are roots of cards in readers."""
    used = set(taken)
    for profile in by_precedence(profiles):
        roots = find_device_roots(profile, computer.root)
        if roots and not used.intersection(roots.values()):
            used |= set(roots.values())
            yield make_known_card(Match(profile, roots), computer, "device", name=profile.name, notes=(NOTE,))


def find_device_roots(profile: Profile, root: Path) -> dict[str, Path]:
    """The device's own paths that are here and are what they should be, by role."""
    paths = {
        role: root / rule.device_path.lstrip("/")
        for role, rule in profile.volumes.items()
        if rule.device_path is not None
    }
    return {role: path for role, path in paths.items() if not find_missing(path, profile.volumes[role])}

"""Matches folders with the roles of a profile, by what lies in them."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from pathlib import Path

from workbench.card.profile import Profile, VolumeRule
from workbench.card.profiles import by_precedence, find_card_profiles
from workbench.errors import ProfileError
from workbench.values import dataclass, field


@dataclass(frozen=True, slots=True)
class Match:
    """A profile and where its roles were found; roles that were not are missing here."""

    profile: Profile
    roots: Mapping[str, Path] = field(default_factory=dict)

    @property
    def weight(self) -> tuple[int, int]:
        """How much speaks for it: roles found, then paths that identify them."""
        return len(self.roots), sum(len(self.profile.volumes[role].identify) for role in self.roots)


def find_missing(root: Path, rule: VolumeRule) -> tuple[str, ...]:
    """The identifying paths that are not in a folder; none means that it is that volume."""
    return tuple(path for path in rule.identify if not _is_there(f"{root}/{path}"))


def match_profile(profile: Profile, roots: Sequence[Path]) -> Match:
    """The roles of a profile given to folders, as many as can be, the earlier folder first."""
    fits = {
        role: [root for root in roots if not find_missing(root, rule)]
        for role, rule in profile.volumes.items()
    }
    return Match(profile, _give_roles(tuple(fits.items()), frozenset()))


def choose_profile(profiles: Iterable[Profile], roots: Sequence[Path]) -> Match | None:
    """The profile that these volumes match: the first by precedence, among equals the best match."""
    for _, equals in groupby(by_precedence(profiles), key=lambda profile: profile.origin):
        matches = [match for match in (match_profile(one, roots) for one in equals) if match.roots]
        if matches:
            return max(matches, key=lambda match: match.weight)
    return None


def match_card(profiles: Sequence[Profile], roots: Sequence[Path]) -> tuple[Match | None, tuple[str, ...]]:
    """The profile for these volumes, the card's own among the choices, and sentences to show about it."""
    if any(profile.origin == "given" for profile in profiles):
        return choose_profile(profiles, roots), ()
    try:
        brought = find_card_profiles(roots)
    except ProfileError as error:
        return choose_profile(profiles, roots), (f"The profile on the card was left aside: {error.message}",)
    return choose_profile((*profiles, *brought), roots), ()


def _give_roles(fits: tuple[tuple[str, list[Path]], ...], taken: frozenset[Path]) -> dict[str, Path]:
    if not fits:
        return {}
    (role, roots), rest = fits[0], fits[1:]
    best = _give_roles(rest, taken)
    for root in reversed(roots):
        if root not in taken:
            given = {role: root, **_give_roles(rest, taken | {root})}
            if len(given) >= len(best):
                best = given
    return best


def _is_there(path: str) -> bool:
    return os.path.isdir(path) if path.endswith("/") else os.path.lexists(path)

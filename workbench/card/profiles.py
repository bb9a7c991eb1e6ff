"""Which profiles there are, and which comes first: `--profile`, the user's folder, the card, built-in.

A profile that lies on a card came with it, from anyone: it is flagged untrusted until the person has said
yes to exactly these bytes once, and is never read through a link.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator
from pathlib import Path

from workbench.card.profile import Origin, Profile
from workbench.card.profile_reader import read_profile
from workbench.errors import ProfileError
from workbench.values import replace

CARD_PROFILE = "cardwright-profile.toml"
"""At the root of one of a card's volumes."""

_RANK: dict[Origin, int] = {"given": 0, "user": 1, "card": 2, "built-in": 3}


def find_profiles(given: Path | None = None) -> tuple[Profile, ...]:
    """The profiles that cards are matched with, first come first: one that was given is the only one.

    A broken one in the user's folder is left out here; `find_broken_profiles` says what is wrong with it.

    Raises:
        ProfileError: the one that was given is broken.
    """
    if given is not None:
        return (read_profile(given),)
    return tuple(one for one in _read_all() if isinstance(one, Profile))


def find_broken_profiles() -> tuple[ProfileError, ...]:
    """What is wrong with profiles in the user's folder."""
    return tuple(one for one in _read_all() if isinstance(one, ProfileError))


def find_card_profiles(roots: Iterable[Path]) -> tuple[Profile, ...]:
    """The profiles that these volumes bring along, flagged untrusted unless said yes to before.

    Raises:
        ProfileError: one is broken.
    """
    return tuple(
        _read_card_profile(file) for file in (root / CARD_PROFILE for root in roots) if _is_plain(file)
    )


def trust(profile: Profile) -> Profile:
    """The person said yes: remember it, and give the profile back as trusted."""
    from workbench.host.settings import trust_profile

    trust_profile(profile.sha256)
    return replace(profile, trusted=True)


def by_precedence(profiles: Iterable[Profile]) -> tuple[Profile, ...]:
    """The same profiles, the one that wins first."""
    return tuple(sorted(profiles, key=lambda profile: _RANK[profile.origin]))


def _read_all() -> Iterator[Profile | ProfileError]:
    from workbench.assets import find_assets
    from workbench.host.folders import config_folder

    for origin, folder in (
        ("user", config_folder() / "profiles"),
        ("built-in", find_assets("fixtures") / "profiles"),
    ):
        for file in sorted(folder.glob("*.toml")):
            try:
                yield read_profile(file, "user" if origin == "user" else "built-in")
            except ProfileError as error:
                yield error


def _read_card_profile(file: Path) -> Profile:
    from workbench.host.settings import is_trusted_profile

    profile = read_profile(file, "card")
    return replace(profile, trusted=True) if is_trusted_profile(profile.sha256) else profile


def _is_plain(file: Path) -> bool:
    """Whether it is a file and no link; in a folder that may not be entered there is none to be seen."""
    try:
        return file.is_file() and not os.path.islink(file)
    except OSError:
        return False

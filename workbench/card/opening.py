"""Opens the card that a person names by a folder or a label."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.identify import Match, find_missing, match_card
from workbench.card.making import make_known_card, make_unknown_card
from workbench.card.profile import Profile
from workbench.card.profile_table import closest
from workbench.card.profiles import by_precedence, find_broken_profiles
from workbench.card.volumes import Card
from workbench.errors import AmbiguousCardError, CardError, UsageError
from workbench.shown import shown

_MOST_FOLDERS = 64
"""Sub-folders that are tried as volumes; a folder with more holds no volumes side by side."""


def choose_by_label(text: str, cards: Sequence[Card]) -> Card:
    """The card that has this label, exactly or else by case.

    Raises:
        CardError: none has it, or nothing on it is mounted.
        AmbiguousCardError: more than one has.
    """
    for fold in (str, str.casefold):
        fitting = [card for card in cards if fold(text) in map(fold, _labels(card))]
        if len(fitting) > 1:
            places = "; ".join(_describe_place(card) for card in fitting)
            raise AmbiguousCardError(
                f"{len(fitting)} cards are called {shown(text)!r}: {places}. Name one by its mount point."
            )
        if fitting:
            return _check_mounted(fitting[0])
    found = ", ".join(shown(card.name) for card in cards) or "none"
    raise CardError(
        f"there is no card {shown(text)!r}: neither a folder nor the label of a card that is mounted here "
        f"(found: {found}); nothing was changed.",
        path=text,
    )


def open_folder(
    folder: Path,
    profiles: Sequence[Profile],
    computer: Computer,
    volumes: Mapping[str, Path],
) -> Card:
    """The card that a folder is, or whose volumes are its sub-folders; `volumes` are given by hand.

    Raises:
        CardError: it is no card of the profile that was given.
        UsageError: a role that no profile has.
    """
    roots = find_roots(folder, profiles)
    match, notes = match_card(profiles, roots)
    if volumes:
        match = _give_by_hand(match, profiles, volumes)
    if match is not None:
        return make_known_card(match, computer, "folder", name=folder.name, notes=notes)
    if len(profiles) == 1 and profiles[0].origin == "given":
        raise _no_match(folder, profiles[0])
    notes += tuple(f"A profile was left aside: {error.message}" for error in find_broken_profiles())
    return make_unknown_card([folder], computer, "folder", name=folder.name, notes=notes)


def find_roots(folder: Path, profiles: Sequence[Profile]) -> list[Path]:
    """The folder itself where it is a volume of some profile, else its sub-folders after it."""
    rules = [rule for profile in profiles for rule in profile.volumes.values()]
    if any(not find_missing(folder, rule) for rule in rules):
        return [folder]
    try:
        with os.scandir(folder) as found:
            below = sorted(one.name for one in found if one.is_dir(follow_symlinks=False))
    except OSError as error:
        raise CardError(
            f"the folder {shown(str(folder))} cannot be read: {error.strerror}; nothing was changed.",
            path=str(folder),
        ) from error
    visible = [folder / name for name in below if not name.startswith(".")]
    return [folder, *visible[:_MOST_FOLDERS]]


def _give_by_hand(match: Match | None, profiles: Sequence[Profile], volumes: Mapping[str, Path]) -> Match:
    """The match with roles put by hand; where none fits, the one profile that has these roles."""
    if match is None or not volumes.keys() <= match.profile.volumes.keys():
        match = Match(_choose_by_roles(profiles, volumes))
    by_hand = {role: _check_folder(role, path) for role, path in volumes.items()}
    kept = {role: root for role, root in match.roots.items() if root not in by_hand.values()}
    return Match(match.profile, {**kept, **by_hand})


def _choose_by_roles(profiles: Sequence[Profile], volumes: Mapping[str, Path]) -> Profile:
    fitting = [one for one in by_precedence(profiles) if volumes.keys() <= one.volumes.keys()]
    found = [
        one for one in fitting if any(not find_missing(volumes[role], one.volumes[role]) for role in volumes)
    ]
    chosen = found or fitting
    if len(chosen) == 1 or found:
        return chosen[0]
    if fitting:
        names = ", ".join(shown(one.name) for one in fitting)
        raise UsageError(f"--volume fits several profiles ({names}); add --profile.")
    roles = sorted({role for profile in profiles for role in profile.volumes})
    wrong = next((role for role in volumes if role not in roles), next(iter(volumes)))
    near = closest(wrong, roles)
    hint = f" Did you mean {near!r}?" if near else ""
    raise UsageError(
        f"no profile has the volume {shown(wrong)!r}; known are {', '.join(roles) or 'none'}.{hint}"
    )


def _check_folder(role: str, path: Path) -> Path:
    if not path.is_dir():
        raise CardError(
            f"--volume {shown(role)}={shown(str(path))}: there is no such folder; nothing was changed.",
            path=str(path),
        )
    return path.resolve()


def _no_match(folder: Path, profile: Profile) -> CardError:
    wanted = "; ".join(f"{role}: {', '.join(rule.identify)}" for role, rule in profile.volumes.items())
    return CardError(
        f"the folder {shown(str(folder))} is no card of the profile {shown(profile.name)}: "
        f"neither it nor a folder in it holds what tells its volumes ({shown(wanted)}); "
        "nothing was changed. Say where they are with --volume ROLE=PATH.",
        path=str(folder),
    )


def _labels(card: Card) -> set[str]:
    return {card.name, *(volume.label for volume in card.volumes.values() if volume.label)}


def _check_mounted(card: Card) -> Card:
    if card.present:
        return card
    devices = ", ".join(volume.device for volume in card.volumes.values())
    raise CardError(
        f"the card {shown(card.name)} is in this computer, but nothing on it is mounted ({shown(devices)}); "
        "nothing was changed. Mount it and try again.",
        path=card.name,
    )


def _describe_place(card: Card) -> str:
    return " and ".join(shown(str(volume.root)) for volume in card.present) or "not mounted"

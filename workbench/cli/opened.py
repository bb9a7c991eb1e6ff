"""What most commands start with: the card that was named, its profile, and a tree to read."""

from __future__ import annotations

import os
import sys
from pathlib import Path

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.paths import LEDGER_FOLDER
from workbench.card.profile import Profile
from workbench.card.profiles import find_profiles, trust
from workbench.card.volumes import Card
from workbench.cli.hint import command_line
from workbench.cli.output import is_agreed, warn
from workbench.errors import ProfileError, UnfinishedChangeError, UsageError
from workbench.typed import TYPE_CHECKING
from workbench.values import dataclass, replace

if TYPE_CHECKING:
    import argparse

    from workbench.changes.recover import Unfinished


@dataclass(frozen=True, slots=True)
class Opened:
    """One card, opened for one command."""

    card: Card
    profile: Profile
    tree: DiskTree


def known_profiles(given: str | None) -> tuple[Profile, ...]:
    """The one that was given, else all that are known."""
    return find_profiles(Path(given) if given else None)


def open_card_named(args: argparse.Namespace) -> Card:
    """The card that the command names, with its profile trusted or refused."""
    card = open_card(args.card, known_profiles(args.profile), volumes=_volumes(args.volume))
    if card.profile is not None and not card.profile.trusted:
        return replace(card, profile=_ask_trust(card.profile, args))
    return card


def open_for_reading(args: argparse.Namespace) -> Opened:
    """Open the card for reading.

    Raises:
        CardError, AmbiguousCardError: no such card, or two.
        ProfileError: no profile describes it.
    """
    card = open_card_named(args)
    for note in card.notes:
        warn(note)
    if card.profile is None:
        raise ProfileError(
            f"no profile describes the card {card.name}; nothing was changed. Give one with --profile FILE.",
            path=args.card,
        )
    for volume in card.absent:
        warn(f"The volume {volume.role} of this card is absent.")
    return Opened(card, card.profile, DiskTree(card))


def open_for_writing(args: argparse.Namespace) -> Opened:
    """Open the card for a command that plans a change.

    Raises:
        UnfinishedChangeError: an earlier change began and did not end.
    """
    opened = open_for_reading(args)
    unfinished = _find_unfinished(opened.card)
    if unfinished is not None:
        forward = command_line(args, "recover", "--forward")
        raise UnfinishedChangeError(
            f"change {unfinished.number} ({unfinished.title}) on this card is unfinished; nothing more was "
            f"changed. Finish it with: {forward}, or take it back with --back. {unfinished.caution}"
        )
    if opened.card.source == "device":
        _start_what_was_left(opened.card)
    return opened


def _start_what_was_left(card: Card) -> None:
    """The device's menu, where a program that was killed left it stopped."""
    from workbench.changes.quiet_device import is_left_stopped, start_again

    if is_left_stopped(card):
        warn("The device's menu was left stopped by a program that was cut off; it is started again.")
        for note in start_again(card):
            warn(note)


def _find_unfinished(card: Card) -> Unfinished | None:
    """The change that blocks writing; little is imported to say that there is none."""
    if not any(os.path.lexists(volume.root / LEDGER_FOLDER) for volume in card.present):
        return None
    from workbench.changes.change_list import are_all_at_end

    if are_all_at_end(card):
        return None
    from workbench.changes.recover import find_unfinished

    return find_unfinished(card)


def _volumes(words: list[str]) -> dict[str, Path]:
    volumes = {}
    for word in words:
        role, equals, path = word.partition("=")
        if not equals or not role or not path:
            raise UsageError(f"--volume takes ROLE=PATH, not {word!r}")
        volumes[role] = Path(path)
    return volumes


def _ask_trust(profile: Profile, args: argparse.Namespace) -> Profile:
    """A profile found on a card came from anyone: ask once, refuse where nobody can answer."""
    if not sys.stdin.isatty() or getattr(args, "json", False):
        import shlex

        raise UsageError(
            "the card brings its own profile, which nobody has looked at yet; nothing was changed. "
            f"Look at it, then give it with --profile {shlex.quote(str(profile.source))}",
            path=str(profile.source),
        )
    # On standard error: what the command prints may go into a file.
    warn(f"The card brings its own profile: {profile.source}")
    if not is_agreed("Use it? It decides which files are changed."):
        raise ProfileError(
            "the card's own profile was not taken; nothing was changed. Give one with --profile FILE."
        )
    return trust(profile)

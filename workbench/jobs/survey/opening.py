"""Opens what is to be surveyed: volumes, a folder that holds them, or a card's label.

Whether a folder is a volume or holds volumes is told as everything else here: by where its paths lead.
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from pathlib import Path

from workbench.card.command_words import split_command
from workbench.card.computer import Computer
from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.identify import match_profile
from workbench.card.making import make_known_card, make_unknown_card
from workbench.card.profile import Profile
from workbench.card.volumes import Card
from workbench.errors import CardError
from workbench.jobs.survey.analysis import find_first_texts
from workbench.jobs.survey.places import Places, fold
from workbench.jobs.survey.reading import Tell, read_card
from workbench.jobs.survey.routes import absolute_parts, split_path
from workbench.jobs.survey.surveying import with_legal_roles
from workbench.shown import shown

_FEW = 3
"""Partitions of one card that are common."""
_SAMPLE = 20
"""Manifests of one sort that are asked whether folders are volumes; the survey itself reads more."""
_MOST_VOLUMES = 6
"""A card with more partitions than this is not heard of; a volume with more folders is usual."""


def open_unknown(names: Sequence[str], computer: Computer | None = None) -> Card:
    """The card that a person names by the folders of its volumes, by one that holds them, or by its label.

    Raises:
        CardError: there is none.
        AmbiguousCardError: two cards have that label.
    """
    host = computer or Computer()
    if len(names) > 1:
        return make_unknown_card([_check_folder(name) for name in names], host, "folder")
    return spread_card(open_card(names[0], (), computer=host), host)


def spread_card(card: Card, computer: Computer | None = None, tell: Tell | None = None) -> Card:
    """The card that a folder is: with its sub-folders as volumes, where they are volumes."""
    if card.source != "folder" or len(card.present) != 1:
        return card
    host = computer or Computer()
    folder = card.present[0].root
    below = find_volumes(folder, host, tell)
    return make_unknown_card(below, host, "folder", name=folder.name, notes=card.notes) if below else card


def open_for_trial(names: Sequence[str], profile: Profile, computer: Computer | None = None) -> Card:
    """The same card as that profile has it.

    Raises:
        CardError: there is none, or it is no card of that profile.
    """
    host = computer or Computer()
    if len(names) == 1:
        return open_card(names[0], (profile,), profile, computer=host)
    folders = [_check_folder(name) for name in names]
    match = match_profile(profile, folders)
    if not match.roots:
        raise CardError(
            f"none of these folders holds what tells a volume of the profile {shown(profile.name)}; nothing "
            "was changed. Name others, or look at `identify` in the profile.",
            path=names[0],
        )
    return make_known_card(match, host, "folder")


def _check_folder(name: str) -> Path:
    folder = Path(os.path.realpath(os.path.expanduser(name)))
    if not folder.is_dir():
        raise CardError(f"there is no folder {shown(name)!r}; nothing was changed.", path=name)
    return folder


def find_volumes(folder: Path, computer: Computer, tell: Tell | None = None) -> list[Path]:
    """The sub-folders, where they are volumes; none where the folder itself is one."""
    try:
        with os.scandir(folder) as found:
            items = [one for one in found if not one.name.startswith(".")]
            if any(not one.is_dir(follow_symlinks=False) for one in items):
                return []
    except OSError:
        return []
    roots = sorted(folder / one.name for one in items)
    if not 1 <= len(roots) <= _MOST_VOLUMES:
        return []
    apart, together = _weigh(with_legal_roles(make_unknown_card(roots, computer, "folder")), tell)
    # A lone folder around everything is mostly what is left of a card's own name.
    is_apart = apart >= together if len(roots) == 1 else apart > together
    return roots if is_apart else []


def _weigh(card: Card, tell: Tell | None) -> tuple[int, int]:
    """How many texts lead somewhere if the folders are volumes, and how many only if they are not."""
    reading = read_card(DiskTree(card), sample=_SAMPLE, tell=tell)
    texts = find_first_texts(reading)
    names = {fold(volume.root.name): role for role, volume in card.volumes.items()}
    apart = together = 0
    through: list[tuple[str, int]] = []
    """Of absolute paths that lead through a folder: which, and how many parts lie below it."""
    for site in texts.sites:
        for chain, whole in () if site.is_key else site.samples[:200]:
            for text in _paths_in(whole):
                led = _lead_through(reading.places, names, text)
                if led is not None and text.startswith(("/", "file:", "$")):
                    through.append(led)
                elif led is not None:
                    together += 1
                else:
                    manifest = site.shape.manifests[site.file_of(chain)]
                    routes = texts.routes.find(text, manifest)
                    # A path that starts in the manifest's own folder says nothing about volumes.
                    apart += any(route.exists and route.first == 0 for route in routes)
    if not apart and not together and len(names) <= _FEW:
        # Mount points that end in the folders' names: volumes are often mounted under their labels. Where all
        # lead right into one folder, that is sooner a folder of entries than a volume of nothing else.
        is_one_folder = len({name for name, _ in through}) == 1 and all(depth == 1 for _, depth in through)
        return (0, len(through)) if is_one_folder else (len(through), 0)
    return apart, together + len(through) * (len(names) > _FEW)


def _paths_in(text: str) -> Sequence[str]:
    """The text, or the words of a command that hold a path."""
    if "/" not in text:
        return ()
    words = [word.text for word in split_command(text)] if " " in text else []
    absolute = [word for word in words if word != text and word.startswith("/") and "/" in word[1:]]
    return (text,) if text.startswith(("/", "file:", "$")) or not absolute else absolute


def _lead_through(places: Places, names: Mapping[str, str], text: str) -> tuple[str, int] | None:
    """The folder that a path leads through, and how many parts lie below it."""
    parts = absolute_parts(text) if text.startswith("file:") else split_path(text)
    parts = [part for part in parts if part not in ("", ".")]
    for number, part in enumerate(parts):
        below = parts[number + 1 :]
        role = names.get(fold(part))
        if role is not None and below and places.exists(role, below):
            return fold(part), len(below)
    return None

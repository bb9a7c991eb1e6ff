"""What the tests of the survey share: cards surveyed without a profile, and what profiles make of them."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import practice_cards

from workbench.card.computer import Computer
from workbench.card.disk_tree import DiskTree
from workbench.card.making import make_unknown_card
from workbench.card.menu import read_menus
from workbench.card.opening import open_folder
from workbench.card.profile import Profile
from workbench.card.profile_reader import parse_profile, read_profile
from workbench.card.references import FileReference, find_all_references
from workbench.card.volumes import Card
from workbench.jobs.survey import Survey, answer, profile_text, read_survey

MAKE = Path("surveyed.toml")


def unknown_card(*volumes: Path, name: str = "unknown") -> Card:
    """Folders as the volumes of a card that no profile describes."""
    return make_unknown_card(list(volumes), Computer(), "folder", name=name)


def survey_folder(folder: Path) -> Survey:
    """A survey of the card whose volumes are the sub-folders."""
    return read_survey(unknown_card(*sorted(folder.iterdir()), name=folder.name))


def survey_files(root: Path, files: Mapping[str, str | bytes]) -> Survey:
    """A survey of a card of one volume with these files."""
    write_files(root / "card", files)
    return read_survey(unknown_card(root / "card", name="card"))


def write_files(root: Path, files: Mapping[str, str | bytes]) -> None:
    """Lay files out in a folder."""
    for path, content in files.items():
        place = root / path
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_bytes(content if isinstance(content, bytes) else content.encode())


def profile_of(survey: Survey) -> Profile:
    """The surveyed profile, read back as a person's own."""
    return parse_profile(profile_text(survey).encode(), MAKE)


def hand_profile(name: str) -> Profile:
    """The hand-written profile of a practice device."""
    return read_profile(practice_cards.profile_path(name))


def tree_of(folder: Path, profile: Profile) -> DiskTree:
    """The card in a folder, opened by that profile."""
    return DiskTree(open_folder(folder, (profile,), Computer(), {}))


def answer_as(survey: Survey, device: Mapping[tuple[str, ...], int], rotation: str = "upright") -> Survey:
    """Answer every question as one would who looks at a device that lists entries at these positions.

    Args:
        device: position by (`{parent}` or "", name).
    """
    while survey.questions:
        question = survey.questions[-1]
        if question.id == "rotation":
            survey = answer(survey, question, rotation)
            continue
        parent = question.words.removeprefix("In ").partition(":")[0] if question.words[:3] == "In " else ""
        first = min(question.choices, key=lambda choice: device[parent, choice.value])
        survey = answer(survey, question, first)
    return survey


def positions(tree: DiskTree, profile: Profile) -> dict[tuple[str, ...], int]:
    """Where each entry stands in its menu."""
    menus = read_menus(tree, profile)
    return {(menu.parent or "", entry.name): entry.position for menu in menus for entry in menu.entries}


def view(tree: DiskTree, profile: Profile) -> dict[str, list[tuple[Any, ...]]]:
    """Every menu by its root: its entries in order, with what the device shows where a manifest says so."""
    return {
        str(menu.root): [(e.name, e.label if e.has_label else None) for e in menu.entries]
        for menu in read_menus(tree, profile)
    }


def references(tree: DiskTree, profile: Profile) -> set[tuple[Any, ...]]:
    """Everything that names an entry, as comparable values."""
    found: set[tuple[Any, ...]] = set()
    for entry, places in find_all_references(tree, profile).items():
        for one in places:
            if isinstance(one, FileReference):
                found.add((str(entry), str(one.at), one.kind, one.before, one.after))
            else:
                found.add((str(entry), str(one.at), one.line, one.text, one.start, one.end))
    return found

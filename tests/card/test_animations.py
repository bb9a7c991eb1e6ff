"""The animations on a card: found, and read without decoding a frame."""

from __future__ import annotations

import shutil
from pathlib import Path

import practice_cards
import pytest

from workbench.card.animations import (
    find_frames,
    read_animation,
    read_animations,
    read_chosen,
    require_rule,
)
from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.errors import EntryError, ProfileError
from workbench.values import replace


def open_device(device: str, folder: Path) -> tuple[DiskTree, Profile]:
    profile = read_profile(practice_cards.profile_path(device))
    return DiskTree(open_card(str(folder), (profile,), profile)), profile


@pytest.mark.parametrize(
    ("device", "name", "count", "delay_ms", "sound"),
    [("larkspur", "river", 8, 40, "sound.wav"), ("orrery", "comet", 6, 84, "tempo.wav")],
)
def test_what_is_on_the_card_is_read(practice_card, device, name, count, delay_ms, sound) -> None:
    """Frames, count, pace with the time to draw, sound and choice."""
    tree, profile = open_device(device, practice_card(device))
    (found,) = read_animations(tree, profile)
    assert (found.name, len(found.frames), found.count, found.is_chosen) == (name, count, count, True)
    assert found.pace is not None and found.pace.delay * 1000 == delay_ms
    assert found.sound is not None and found.sound.name == sound
    assert read_chosen(tree, profile) == name


def test_a_card_without_one_has_none(practice_card) -> None:
    """Fernway's card comes without; a name that is not there is refused with those that are."""
    tree, profile = open_device("fernway", practice_card("fernway"))
    assert read_animations(tree, profile) == ()
    with pytest.raises(EntryError, match="It has: none"):
        read_animation(tree, profile, "river")
    with pytest.raises(ProfileError, match="says nothing of boot animations"):
        require_rule(replace(profile, animation=None))


def test_a_name_is_found_whatever_its_case(practice_card) -> None:
    """The card's own spelling is given back."""
    tree, profile = open_device("larkspur", practice_card("larkspur"))
    assert read_animation(tree, profile, "RIVER").name == "river"


def test_frames_are_those_that_the_device_looks_for(practice_card) -> None:
    """Sorted by number; other zeros, other names and folders are not taken in."""
    card = practice_card("orrery")
    home = card / "disk/motion/comet"
    for name in ("plate7.png", "plate0007.png", "plate007.jpg", "plate010.png"):
        shutil.copy(home / "plate001.png", home / name)
    (home / "plate011.png").mkdir()
    tree, profile = open_device("orrery", card)
    assert [one.number for one in find_frames(tree, require_rule(profile), "comet")] == [1, 2, 3, 4, 5, 6, 10]


def test_torn_settings_hide_nothing_else(practice_card) -> None:
    """The fault is told, with the frames as they are."""
    card = practice_card("orrery")
    (card / "disk/motion/comet/tempo.toml").write_text("plates = = 6\n")
    tree, profile = open_device("orrery", card)
    (found,) = read_animations(tree, profile)
    assert len(found.frames) == 6 and found.pace is None and "tempo.toml" in found.fault

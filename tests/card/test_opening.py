"""Folders as cards: a volume, a folder of volumes, volumes put by hand."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from fake_computer import FakeComputer

from workbench.card.discovery import open_card
from workbench.card.profile import Profile
from workbench.errors import CardError, UsageError

Make = Callable[[Path], Path]
Profiles = tuple[Profile, ...]


def test_a_folder_of_volumes_is_a_card(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make, make_system: Make
) -> None:
    """Sub-folders are volumes by what lies in them, whatever they are called."""
    data, system = make_data(tmp_path / "desk" / "one"), make_system(tmp_path / "desk" / "two")
    (tmp_path / "desk" / ".hidden").mkdir()
    card = open_card(str(tmp_path / "desk"), profiles, computer=computer.look())
    assert card.source == "folder" and card.name == "desk" and card.profile is profiles[0]
    assert card.volume("data").root == data and card.volume("system").root == system


def test_a_folder_that_is_a_volume_is_a_card(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """The other volume is absent, not looked for inside."""
    data = make_data(tmp_path / "desk")
    make_data(tmp_path / "desk" / "a copy")
    card = open_card(str(data), profiles, computer=computer.look())
    assert card.volume("data").root == data and [one.role for one in card.absent] == ["system"]


def test_a_folder_that_nothing_matches_is_shown_by_its_name(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path
) -> None:
    """A card without a profile."""
    (tmp_path / "desk").mkdir()
    card = open_card(str(tmp_path / "desk"), profiles, computer=computer.look())
    assert card.profile is None and list(card.volumes) == ["desk"]


def test_a_folder_that_is_no_card_of_the_given_profile_is_refused(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path
) -> None:
    """The sentence names what was looked for."""
    (tmp_path / "desk").mkdir()
    with pytest.raises(CardError, match=r"house/register\.json"):
        open_card(str(tmp_path / "desk"), profiles, profiles[0], computer=computer.look())


def test_volumes_put_by_hand_decide(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """`--volume ROLE=PATH` where nothing decides; the rest is found as ever."""
    data = make_data(tmp_path / "desk" / "one")
    (tmp_path / "desk" / "two").mkdir()
    volumes = {"system": tmp_path / "desk" / "two"}
    card = open_card(str(tmp_path / "desk"), profiles, None, volumes, computer.look())
    assert card.volume("data").root == data and card.volume("system").root.name == "two"


def test_a_role_that_no_profile_has_is_refused_with_the_closest(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path
) -> None:
    """A slip of the keys gets its hint."""
    with pytest.raises(UsageError, match="Did you mean 'system'"):
        open_card(str(tmp_path), profiles, None, {"sistem": tmp_path}, computer.look())
    with pytest.raises(CardError, match="no such folder"):
        open_card(str(tmp_path), profiles, None, {"system": tmp_path / "none"}, computer.look())


def test_sizes_and_the_allocation_unit_are_measured(
    computer: FakeComputer, profiles: Profiles, tmp_path: Path, make_data: Make
) -> None:
    """Figures of the host's file system, not guesses."""
    volume = open_card(str(make_data(tmp_path / "desk")), profiles, computer=computer.look()).volume("data")
    assert 0 < volume.free_bytes <= volume.size_bytes
    assert volume.cluster_bytes >= 512 and volume.cluster_bytes & (volume.cluster_bytes - 1) == 0
    assert volume.case_probed and not volume.read_only

"""Where profiles come from, which wins, and whose word is taken."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.profiles import (
    by_precedence,
    find_broken_profiles,
    find_card_profiles,
    find_profiles,
    trust,
)
from workbench.errors import ProfileError

TEXT = 'schema = 1\nname = "Mine"\npanel = {width=1, height=1}\nvolumes.data.identify = ["shelf/"]\n'


@pytest.fixture(autouse=True)
def own_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The user's folders, empty and away from the real ones."""
    for purpose in ("CONFIG", "STATE", "CACHE"):
        monkeypatch.setenv(f"CARDWRIGHT_{purpose}", str(tmp_path / purpose.lower()))
    folder = tmp_path / "config" / "profiles"
    folder.mkdir(parents=True)
    return folder


def test_the_users_profiles_come_before_the_built_in(own_folders: Path) -> None:
    """A file put in the user's folder is found and wins."""
    (own_folders / "mine.toml").write_text(TEXT)
    found = find_profiles()
    assert found[0].name == "Mine" and found[0].origin == "user" and found[0].trusted
    assert {"Larkspur", "Fernway", "Orrery"} <= {one.name for one in found if one.origin == "built-in"}
    assert by_precedence(reversed(found))[0].name == "Mine"


def test_a_broken_profile_of_the_user_stops_no_other(own_folders: Path) -> None:
    """It is left out, and what is wrong with it can be asked."""
    (own_folders / "broken.toml").write_text("schema = 1\nnam = 3\n")
    assert all(one.origin == "built-in" for one in find_profiles())
    (error,) = find_broken_profiles()
    assert error.line == 2 and error.path == str(own_folders / "broken.toml")


def test_a_given_profile_is_the_only_one(tmp_path: Path) -> None:
    """`--profile FILE` decides alone, and a broken one is an error."""
    (tmp_path / "given.toml").write_text(TEXT)
    (given,) = find_profiles(tmp_path / "given.toml")
    assert given.origin == "given" and given.trusted
    with pytest.raises(ProfileError, match="cannot be read"):
        find_profiles(tmp_path / "none.toml")


def test_trust_in_a_cards_profile_is_remembered_for_its_exact_bytes(tmp_path: Path) -> None:
    """Asked once; a changed file is asked about again."""
    file = tmp_path / "cardwright-profile.toml"
    file.write_text(TEXT)
    (profile,) = find_card_profiles([tmp_path])
    assert profile.origin == "card" and not profile.trusted
    assert trust(profile).trusted
    assert find_card_profiles([tmp_path])[0].trusted
    file.write_text(TEXT.replace("Mine", "Theirs"))
    assert not find_card_profiles([tmp_path])[0].trusted


def test_a_folder_that_cannot_be_entered_brings_no_profile(tmp_path: Path) -> None:
    """What the system refuses to look at hides no card (a name too long here; rights, for all but root)."""
    assert find_card_profiles([tmp_path / ("a" * 300), tmp_path]) == ()

"""Hostile cards give findings or notes: never a crash, never a hang, nothing read that is not on the card."""

from __future__ import annotations

import json
import os
from pathlib import Path

import pytest
from survey_cards import profile_of, survey_files, unknown_card, write_files

from workbench.jobs.survey import profile_text, read_survey

NAMES = ("Amber Hall", "Birch Walk", "Cold Harbour", "Dry Dock", "Elm Road")
GOOD = {
    **{f"tales/{name}/go": "#!/bin/sh\n" for name in NAMES},
    "set/list.json": json.dumps({"tales": {name: {"says": f"The {name}"} for name in NAMES}}),
}

HOSTILE = {
    "deep.json": "[" * 100_000 + "]" * 100_000,
    "deep object.json": '{"a":' * 50_000 + "1" + "}" * 50_000,
    "deep.toml": "a = " + "[" * 5_000 + "]" * 5_000,
    "deep.xml": "<a>" * 50_000 + "</a>" * 50_000,
    "bomb.xml": '<!DOCTYPE a [<!ENTITY x "0123456789">\n'
    + "".join(f'<!ENTITY x{n} "{f"&x{n - 1 or 9};" * 10}">\n' for n in range(2, 10))
    + "]>\n<a>&x9;</a>\n",
    "torn.json": '{"tales": ["Amber Hall",',
    "torn.ini": "[a\nb = 1\n",
    "torn.sh": "#!/bin/sh\nif true; then echo 'x\n",
    "long line.txt": "tales/" + "x/" * 400_000,
    "nul.json": b'{"a": "\0"}',
    "latin.txt": b"caf\xe9\n",
    "empty.json": "",
    "wide.json": '{"tales": "\\ud83d", "x": "\\u0000"}',
}


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_file_beside_a_good_card_changes_nothing(tmp_path: Path, name: str) -> None:
    """The menu and its register are found all the same."""
    survey = survey_files(tmp_path, {**GOOD, f"set/{name}": HOSTILE[name]})
    profile = profile_of(survey)
    assert [str(menu.root) for menu in profile.menus] == ["card:tales"]
    assert profile.menus[0].label is not None


def test_a_text_over_the_size_of_a_manifest_is_a_note(tmp_path: Path) -> None:
    """It is named, and not read to its end."""
    write_files(tmp_path / "card", GOOD)
    with (tmp_path / "card/set/huge.json").open("wb") as file:
        file.write(b'{"a": "')
        file.write(b"x" * 100_000)
        file.truncate(200 * 1024 * 1024)
    with (tmp_path / "card/set/large.txt").open("wb") as file:
        file.write(b"Amber Hall\n" * 800_000)
    survey = read_survey(unknown_card(tmp_path / "card"))
    assert "set/large.txt" in {one.at.path for one in survey.skipped}
    assert len(profile_of(survey).menus) == 1


def test_links_in_circles_and_out_of_the_card_are_not_followed(tmp_path: Path) -> None:
    """The card is what lies on it."""
    outside = tmp_path / "outside"
    write_files(outside, {"secret/list.txt": "Amber Hall\n"})
    write_files(tmp_path / "card", GOOD)
    (tmp_path / "card/tales/again").symlink_to("..")
    (tmp_path / "card/loop").symlink_to("loop")
    (tmp_path / "card/out").symlink_to(outside)
    (tmp_path / "card/set/away.txt").symlink_to(outside / "secret/list.txt")
    survey = read_survey(unknown_card(tmp_path / "card"))
    text = profile_text(survey)
    assert "secret" not in text
    assert "away" not in text
    assert [str(menu.root) for menu in profile_of(survey).menus] == ["card:tales"]


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read everything")
def test_an_unreadable_folder_is_passed_by(tmp_path: Path) -> None:
    """What can be read is surveyed."""
    write_files(tmp_path / "card", {**GOOD, "closed/list.txt": "Amber Hall\n"})
    (tmp_path / "card/closed").chmod(0)
    try:
        survey = read_survey(unknown_card(tmp_path / "card"))
    finally:
        (tmp_path / "card/closed").chmod(0o755)
    assert len(profile_of(survey).menus) == 1


def test_names_with_control_characters_stay_data(tmp_path: Path) -> None:
    """They can be entries, and no comment of the profile carries them raw."""
    odd = "Bell\x1b[31m Tower"
    files = {**GOOD, f"tales/{odd}/go": "#!/bin/sh\n"}
    files["set/list.json"] = json.dumps({"tales": {name: {"says": odd} for name in (*NAMES, odd)}})
    text = profile_text(survey_files(tmp_path, files))
    assert "\x1b" not in text


def test_an_empty_card_gives_a_profile_that_loads(tmp_path: Path) -> None:
    """Nothing is invented; a note says that no menu was found."""
    (tmp_path / "card").mkdir()
    survey = read_survey(unknown_card(tmp_path / "card"))
    assert profile_of(survey).menus == ()
    assert any("No folder was found" in note for note in survey.notes)

"""An existing profile in parts: edited in place, tried, and kept."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import practice_cards
import pytest
from survey_cards import hand_profile, profile_of, survey_folder, tree_of

from workbench.card.discovery import open_card
from workbench.card.profile_reader import parse_profile
from workbench.changes.apply import apply
from workbench.jobs.survey import try_profile
from workbench.jobs.survey.findings import Finding
from workbench.jobs.survey.keeping import file_stem, free_place, plan_on_card
from workbench.jobs.survey.sheet import (
    Sheet,
    amend_part,
    drop_part,
    leave_part,
    read_sheet,
    sheet_text,
)
from workbench.jobs.survey.trial import name_findings

each_device = pytest.mark.parametrize("name", practice_cards.DEVICES)


def sheet_of(name: str) -> Sheet:
    place = practice_cards.profile_path(name)
    return read_sheet(place.read_bytes(), place)


def part(sheet: Sheet, part_id: str) -> Finding:
    return next(one for one in sheet.findings if one.id == part_id)


@each_device
def test_a_sheet_without_edits_is_the_file(name: str) -> None:
    """Byte for byte."""
    assert sheet_text(sheet_of(name)).encode() == practice_cards.profile_path(name).read_bytes()


@each_device
def test_each_part_can_be_dropped_and_nothing_else_goes(name: str) -> None:
    """What is left are lines of the file, in their order."""
    sheet = sheet_of(name)
    before = sheet_text(sheet).splitlines()
    for finding in sheet.findings:
        after = iter(before)
        left = sheet_text(drop_part(sheet, finding)).splitlines()
        assert all(line in after for line in left), finding.id


@each_device
def test_the_parts_bear_the_names_of_a_trial(name: str) -> None:
    """Each rule that a trial speaks of is a part of the sheet."""
    sheet, profile = sheet_of(name), hand_profile(name)
    trial = try_profile(tree_of(practice_cards.FIXTURES / "cards" / name, profile), profile)
    named = set(name_findings(sheet.findings, profile).values())
    heard = {one.rule for one in trial.heard if ".companions" not in one.rule}
    assert heard and heard <= named


@each_device
def test_the_findings_of_a_survey_bear_the_names_of_a_trial(name: str) -> None:
    """And every rule that matches says where."""
    survey = survey_folder(practice_cards.FIXTURES / "cards" / name)
    profile = profile_of(survey)
    trial = try_profile(tree_of(practice_cards.FIXTURES / "cards" / name, profile), profile)
    named = set(name_findings(survey.findings, profile).values())
    assert {one.rule for one in trial.heard if ".companions" not in one.rule} <= named
    assert all(one.evidence for one in trial.heard if ".label" not in one.rule)


def test_an_edit_stays_on_its_line() -> None:
    """The comment behind the value stays; a line that was left out is added."""
    sheet = sheet_of("larkspur")
    sheet = amend_part(sheet, part(sheet, "panel"), {"width": 640})
    sheet = amend_part(sheet, part(sheet, "menus.shelf.order"), {"order": "letters"})
    before, after = practice_cards.profile_path("larkspur").read_text().splitlines(), sheet_text(sheet)
    changed = [line for line in after.splitlines() if line not in before]
    assert changed == ["width = 640", 'order = "letters"']
    assert "rotate = 0                                   # the panel is mounted upright" in after
    assert leave_part(sheet, part(sheet, "panel")).edits.keys() == {"menus.shelf.order"}


def test_an_order_that_the_file_leaves_out_can_be_set(tmp_path: Path) -> None:
    """It has a part all the same: what holds without it."""
    raw = practice_cards.profile_path("larkspur").read_bytes().replace(b'order = "bytes"\n', b"")
    sheet = read_sheet(raw, tmp_path / "x.toml")
    order = part(sheet, "menus.shelf.order")
    assert order.lines[0].value == "bytes"
    assert sheet_text(drop_part(sheet, order)).encode() == raw
    after = sheet_text(amend_part(sheet, order, {"order": "natural"}))
    assert parse_profile(after.encode(), tmp_path / "x.toml").menus[0].order == "natural"


@pytest.mark.parametrize(
    ("name", "stem"),
    [("My Device", "my-device"), ("Ça/là ..", "a-l"), ("\x1b[2J", "2j"), ("", "device"), ("..", "device")],
)
def test_a_name_becomes_a_plain_file_name(name: str, stem: str) -> None:
    """Letters and digits and nothing that means something to a host."""
    assert file_stem(name) == stem


def test_a_place_that_is_taken_is_not_used(tmp_path: Path) -> None:
    """The next number is."""
    (tmp_path / "fern.toml").touch()
    assert free_place(tmp_path, "Fern") == tmp_path / "fern-2.toml"


def test_a_profile_goes_onto_the_card_as_a_change(practice_card: Callable[[str], Path]) -> None:
    """Found there the next time; what lay there is kept by the change."""
    folder = practice_card("larkspur")
    raw = practice_cards.profile_path("larkspur").read_bytes()
    tree = tree_of(folder, hand_profile("larkspur"))
    apply(tree.card, plan_on_card(tree, raw, "data"))
    there = open_card(str(folder), ())
    assert there.profile is not None and not there.profile.trusted
    assert set(there.volumes) == {"data", "system"}
    again = tree_of(folder, hand_profile("larkspur"))
    assert plan_on_card(again, raw, "data").steps == ()
    apply(again.card, plan_on_card(again, raw + b"\n", "data"))
    assert (folder / "data/cardwright-profile.toml").read_bytes() == raw + b"\n"

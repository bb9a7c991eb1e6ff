"""The practice devices with their profiles withheld: a survey finds what the hand-written profile says."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import practice_cards
import pytest
from survey_cards import (
    answer_as,
    hand_profile,
    positions,
    profile_of,
    references,
    survey_folder,
    tree_of,
    view,
)

from workbench.jobs import splash
from workbench.jobs.survey import Survey, profile_text
from workbench.values import replace

TURNS = {"larkspur": "upright", "fernway": "left", "orrery": "upright"}

each_device = pytest.mark.parametrize("name", practice_cards.DEVICES)


@pytest.fixture
def surveyed(practice_card: Callable[[str], Path]) -> Callable[[str], tuple[Path, Survey]]:
    """`surveyed(name)`: a practice card, and its survey with all questions answered as its owner would."""

    def survey(name: str) -> tuple[Path, Survey]:
        folder = practice_card(name)
        hand = hand_profile(name)
        return folder, answer_as(survey_folder(folder), positions(tree_of(folder, hand), hand), TURNS[name])

    return survey


@each_device
def test_the_menus_are_those_of_the_hand_written_profile(
    surveyed: Callable[[str], tuple[Path, Survey]], name: str
) -> None:
    """The same roots, entries, shown names and order."""
    folder, survey = surveyed(name)
    hand, found = hand_profile(name), profile_of(survey)
    assert view(tree_of(folder, found), found) == view(tree_of(folder, hand), hand)


@each_device
def test_no_reference_is_missed_and_none_invented(
    surveyed: Callable[[str], tuple[Path, Survey]], name: str
) -> None:
    """Every place that the hand-written profile finds, and no other."""
    folder, survey = surveyed(name)
    hand, found = hand_profile(name), profile_of(survey)
    assert references(tree_of(folder, found), found) == references(tree_of(folder, hand), hand)


@each_device
def test_the_splashes_have_the_kind_that_was_written_by_hand(
    surveyed: Callable[[str], tuple[Path, Survey]], name: str
) -> None:
    """The same file for each moment, of the same kind, turned the same way."""
    folder, survey = surveyed(name)
    hand, found = hand_profile(name), profile_of(survey)
    theirs, mine = tree_of(folder, hand), tree_of(folder, found)
    assert [(r.moment, r.at, r.kind, r.rotate) for r in splash.show_all(mine, found)] == [
        (r.moment, r.at, r.kind, r.rotate) for r in splash.show_all(theirs, hand)
    ]
    assert found.panel == hand.panel
    assert [dict(rule.kind) for rule in found.splashes] == [dict(rule.kind) for rule in hand.splashes]


@each_device
def test_orders_device_paths_variables_and_animations_agree(
    surveyed: Callable[[str], tuple[Path, Survey]], name: str
) -> None:
    """What is not a reference is learned too, as far as the card shows it."""
    _, survey = surveyed(name)
    hand, found = hand_profile(name), profile_of(survey)
    assert {menu.order for menu in found.menus} == {menu.order for menu in hand.menus}
    assert found.variables == hand.variables
    for role, rule in found.volumes.items():
        assert rule.device_path in (hand.volumes[role].device_path, None)
    if found.animation is None:
        assert name == "fernway", "only that card comes without an animation"
        return
    known, seen = hand.animation, found.animation
    assert known is not None and known.settings and known.chosen and seen.settings
    assert (seen.folder, seen.frames, seen.sound) == (known.folder, known.frames, known.sound)
    # What no card shows: how exact a pace may be, whose work it is, what stands there when nothing plays.
    assert seen.settings == replace(known.settings, decimals=None, author=None)
    assert seen.chosen == replace(known.chosen, none=None)


@each_device
def test_every_line_says_why_it_is_there(surveyed: Callable[[str], tuple[Path, Survey]], name: str) -> None:
    """Each line of the profile has a comment, on it or above it."""
    _, survey = surveyed(name)
    lines = profile_text(survey).splitlines()
    for number, line in enumerate(lines):
        if line and not line.startswith(("#", "[")):
            assert " # " in line or lines[number - 1].startswith("# "), line


@each_device
def test_at_most_four_questions_are_asked(surveyed: Callable[[str], tuple[Path, Survey]], name: str) -> None:
    """Each answer leaves fewer orders; none is asked twice."""
    _, survey = surveyed(name)
    assert 1 <= survey.asked <= 4
    assert survey.questions == ()

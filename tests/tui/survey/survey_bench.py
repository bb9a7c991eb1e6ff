"""The workbench on a card that nobody described, for tests: opened, asked, answered, saved."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from bench_app import bench_of, until
from survey_cards import hand_profile, positions, tree_of
from textual.pilot import Pilot

from workbench.card.discovery import open_card
from workbench.card.profiles import find_profiles
from workbench.jobs.survey import Question
from workbench.tui.app import Workbench
from workbench.tui.desk import Desk
from workbench.tui.survey_dialogs import DeviceQuestion
from workbench.tui.survey_page import SurveyPage

Look = Callable[[Question], str]
"""Answers as one who looks at the device: the value of a choice."""

TURNS = {"larkspur": "upright", "fernway": "left", "orrery": "upright"}


def open_unknown_bench(folder: Path, *, withhold: bool = True) -> Workbench:
    """As `cardwright FOLDER` opens it; with `withhold`, no profile is known at all."""
    profiles = () if withhold else find_profiles()
    card = open_card(str(folder), profiles)
    assert card.profile is None
    return Workbench(Desk(card), profiles)


def look_at(name: str, folder: Path) -> Look:
    """A look at a practice device with that card in it."""
    hand = hand_profile(name)
    listed = positions(tree_of(folder, hand), hand)

    def look(question: Question) -> str:
        if question.id == "rotation":
            return TURNS[name]
        has_room = question.words.startswith("In ")
        room = question.words.removeprefix("In ").partition(":")[0] if has_room else ""
        return min((choice.value for choice in question.choices), key=lambda value: listed[room, value])

    return look


def page_of(pilot: Pilot[int]) -> SurveyPage:
    """The survey's page, which is open."""
    page = bench_of(pilot).page
    assert isinstance(page, SurveyPage)
    return page


async def surveyed(pilot: Pilot[int]) -> SurveyPage:
    """Wait until the card was read."""
    await until(pilot, lambda: isinstance(bench_of(pilot).page, SurveyPage))
    page = page_of(pilot)
    await until(pilot, lambda: page.state == "ready")
    if page.draft is not None and page.draft.questions:
        await until(pilot, lambda: isinstance(pilot.app.screen, DeviceQuestion))
    return page


async def answer_all(pilot: Pilot[int], look: Look) -> int:
    """Answer every question by its number; how many keys that took."""
    keys, page = 0, page_of(pilot)
    while isinstance(pilot.app.screen, DeviceQuestion):
        dialog = pilot.app.screen
        question = dialog._question
        values = [choice.value for choice in question.choices]
        await pilot.press(str(values.index(look(question)) + 1))
        keys += 1
        await until(pilot, lambda dialog=dialog: pilot.app.screen is not dialog)
        await until(
            pilot,
            lambda: (
                isinstance(pilot.app.screen, DeviceQuestion)
                or (page.draft is not None and not page.draft.questions and page.view == "menu")
            ),
        )
    return keys

"""Surveys an invented card as a stranger would: without a profile, questions answered from the device."""

from __future__ import annotations

import re
from pathlib import Path

from layout_card import CardPlan, Thing
from layouts import make_layout
from scoring import Score, score_profile

from workbench.jobs.survey import Question, Survey, answer, profile_text, read_survey
from workbench.jobs.survey.opening import open_unknown

MOST_QUESTIONS = 4


def survey_layout(plan: CardPlan, folder: Path) -> Survey:
    """The survey of the card in that folder, every question answered as the device would show it."""
    volumes = [folder / volume.folder for volume in plan.volumes]
    survey = read_survey(open_unknown([str(volume) for volume in volumes]))
    for _ in range(MOST_QUESTIONS + 1):
        if not survey.questions:
            break
        question = survey.questions[0]
        survey = answer(survey, question, look_at_device(plan, question))
    return survey


def score_survey(seed: int, folder: Path) -> Score:
    """Lay the card of a seed out, survey it, and score what the survey proposes."""
    plan = make_layout(seed)
    plan.write(folder)
    return score_profile(plan, folder, profile_text(survey_layout(plan, folder)))


def look_at_device(plan: CardPlan, question: Question) -> str:
    """The choice that is true of the device: which comes first, which folder is the menu, how it is held."""
    values = [choice.value for choice in question.choices]
    if set(values) == {"upright", "left", "right"}:
        return {0: "upright", 90: "right", 270: "left"}[plan.rotate]
    roots = {menu.root for menu in plan.menus}
    fitting = [value for value in values if value.partition(":")[2] in roots or value in roots]
    if fitting:
        return fitting[0]
    listed = [thing.name for thing in listed_things(plan)]
    known = [value for value in values if value in listed]
    return min(known, key=listed.index) if known else values[0]


def listed_things(plan: CardPlan) -> list[Thing]:
    """The entries of all menus, each menu in the order in which its device lists it."""
    return [
        thing for menu in plan.menus for thing in sorted(menu.things, key=lambda one: _rank(plan, one.name))
    ]


def _rank(plan: CardPlan, name: str) -> tuple[object, ...]:
    """`bytes`: the C locale. `letters`: POSIX strcasecmp. `natural`: runs of digits by value."""
    folded = "".join(char.lower() if char.isascii() else char for char in name)
    if plan.order == "bytes":
        return (name.encode(),)
    if plan.order == "letters":
        return (folded.encode(), name.encode())
    pieces = re.split(r"(\d+)", folded)
    return tuple(
        (int(piece), b"") if number % 2 else (-1, piece.encode()) for number, piece in enumerate(pieces)
    )

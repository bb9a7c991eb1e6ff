"""The test picture: put up from the survey's page, looked at on the device, answered, and taken down."""

from __future__ import annotations

import asyncio
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.desk import Desk
from workbench.tui.dialog import Question
from workbench.tui.lines import Line
from workbench.tui.survey_draft import Draft, Proposed, parse_draft
from workbench.tui.waiting import Waiting
from workbench.tui.writing import write_plan
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.changes.plan import Plan
    from workbench.jobs.probe import Bars, ProfileLine
    from workbench.tui.survey_page import SurveyPage

_TURNS = {0: "upright", 270: "left", 90: "right"}
"""What the survey's question about the panel calls a turn."""
_BARS: tuple[tuple[Bars, str], ...] = (
    ("rgb", "red, green, blue"),
    ("bgr", "blue, green, red"),
    ("none", "other colours"),
)


@dataclass(frozen=True, slots=True)
class Shown:
    """What a person saw of the test picture."""

    top: str
    bars: Bars


async def probe(page: SurveyPage) -> None:
    """Put the test picture up; or, where it is up, ask what was seen and take it down again."""
    draft, bench = page.draft, page.workbench
    if draft is None:
        return
    if bench.has_wishes:
        bench.say("A plan waits: write it or drop it first (the test picture goes onto the card as it is).")
        return
    moment = moment_of(draft)
    if not moment:
        bench.say("No splash was found whose place a test picture could take.")
        return
    try:
        desk = await asyncio.to_thread(_desk_for, draft)
        standing = await asyncio.to_thread(find_number, desk, moment)
        if standing is None:
            await _put_up(page, desk, moment)
        else:
            await _take_down(page, desk, moment, standing)
    except CardwrightError as error:
        bench.say_error(error)


def moment_of(draft: Draft) -> str:
    """The moment whose splash the test picture stands in for; empty where no splash is known."""
    splashes = [one for one in draft.findings if one.table == ("splash",) and one.standing != "dropped"]
    moments = [str(line.value) for one in splashes for line in one.lines if line.key == "moment"]
    return "start" if "start" in moments else next(iter(moments), "")


def is_up(draft: Draft) -> bool:
    """Whether a test picture stands on the card (reads its ledger)."""
    moment = moment_of(draft)
    return bool(moment) and find_number(_desk_for(draft), moment) is not None


def _desk_for(draft: Draft) -> Desk:
    from workbench.tui.survey_work import known_card

    profile = parse_draft(draft)
    return Desk(known_card(draft.card, profile), profile)


def find_number(desk: Desk, moment: str) -> int | None:
    """The change that put the test picture up and still stands."""
    from workbench.changes.ledger import read_history
    from workbench.jobs.probe import find_standing

    return find_standing(read_history(desk.card), moment)


async def _put_up(page: SurveyPage, desk: Desk, moment: str) -> None:
    from workbench.jobs.probe import plan_probe
    from workbench.jobs.splash import drop_renders

    plan = await asyncio.to_thread(plan_probe, desk.disk, desk.known_profile(), moment)
    try:
        is_written = await write_plan(page.workbench, desk, Waiting((plan,)))
    finally:
        drop_renders(plan)
    if is_written:
        page.workbench.show_card_anew()
        page.workbench.say(
            "The test picture is up. Put the card into the device, look at what it shows, and bring the card "
            "back here: p asks what you saw, and puts the old splash back."
        )


async def _take_down(page: SurveyPage, desk: Desk, moment: str, number: int) -> None:
    shown = await _ask(page, desk, moment)
    if shown is None:
        return
    lines, remarks, plan = await asyncio.to_thread(_conclude, desk, moment, shown, number)
    if not await write_plan(page.workbench, desk, Waiting((plan,))):
        return
    page.workbench.show_card_anew()
    draft = page.draft
    if draft is not None:
        page.take_draft(await asyncio.to_thread(with_lines, draft, moment, shown, lines))
    said = [line.sentence() for line in lines] or ["The profile is right as it is."]
    page.workbench.say(" ".join([*said, *remarks]))


async def _ask(page: SurveyPage, desk: Desk, moment: str) -> Shown | None:
    from workbench.jobs.probe import NONE, asks_bars
    from workbench.media.probe_picture import LETTERS

    up = Question(
        "A test picture is up on this card",
        "Did you look at it on the device? Say what you saw, and the old splash goes back.",
        {"y": ("yes", "I saw it")},
    )
    if await page.app.push_screen_wait(up) != "yes":
        return None
    tops = [*LETTERS, NONE]
    words = [*LETTERS, "none of them, or it reads mirrored"]
    at = await page.app.push_screen_wait(
        ChoiceDialog("Which letter stands upright at the top of the device?", list(map(Line.of, words)))
    )
    if at is None:
        return None
    bars: Bars = "rgb"
    if await asyncio.to_thread(asks_bars, desk.disk, desk.known_profile(), moment):
        colours = [Line.of(said) for _bars, said in _BARS]
        seen = await page.app.push_screen_wait(ChoiceDialog("What colours have the bars 1, 2, 3?", colours))
        if seen is None:
            return None
        bars = _BARS[seen][0]
    return Shown(tops[at], bars)


def _conclude(
    desk: Desk, moment: str, shown: Shown, number: int
) -> tuple[tuple[ProfileLine, ...], tuple[str, ...], Plan]:
    """What the answers put into the profile, and the way back to the old splash."""
    from workbench.changes.undo import plan_undo
    from workbench.jobs.probe import propose_lines

    lines, remarks = propose_lines(desk.disk, desk.known_profile(), moment, shown.top, shown.bars)
    return lines, remarks, plan_undo(desk.card, number)


def with_lines(draft: Draft, moment: str, shown: Shown, lines: tuple[ProfileLine, ...]) -> Draft:
    """The draft with what the test picture told: as an answer where that was the open question."""
    from workbench.jobs.probe import rotation_of
    from workbench.jobs.survey.profile_text import read_value

    turn = rotation_of(shown.top)
    answered = False
    if isinstance(draft, Proposed) and turn in _TURNS:
        from workbench.jobs.survey import answer

        question = next((one for one in draft.questions if one.id == "rotation"), None)
        if question is not None:
            draft, answered = Proposed(answer(draft.survey, question, _TURNS[turn])), True
    for line in lines:
        is_panel = line.table == "panel"
        if not line.is_new or (is_panel and answered):
            continue
        finding = next(
            one for one in draft.findings if one.id == ("panel" if is_panel else f"splash.{moment}")
        )
        key, _, text = line.line.partition(" = ")
        draft = draft.amend(finding, {key: read_value(text)}, line.because)
    return draft

"""What the survey's page asks a person: what the device shows, and the values of a finding."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from workbench.errors import CardwrightError
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.lines import Line
from workbench.tui.survey_dialogs import DeviceQuestion, ValueDialog
from workbench.tui.survey_draft import Draft, Proposed, fault_of, typed_value, value_text
from workbench.tui.survey_lines import describe
from workbench.tui.survey_probe import is_up, moment_of, probe

if TYPE_CHECKING:
    from workbench.jobs.survey import Finding, Question, Survey
    from workbench.tui.survey_page import SurveyPage


async def _has_test_picture(draft: Draft) -> bool:
    """Whether one was put up before and stands there still."""
    try:
        return await asyncio.to_thread(is_up, draft)
    except CardwrightError:
        return False


async def ask_in_turn(page: SurveyPage, *, again: bool) -> None:
    """Ask the open questions one by one; with `again`, the one that was answered last before them."""
    draft = page.draft
    if not isinstance(draft, Proposed):
        return
    if again:
        draft = await _conclude(page, _without_last(draft.survey))
    elif any(one.id == "rotation" for one in draft.questions) and await _has_test_picture(draft):
        await probe(page)
        draft = page.draft if isinstance(page.draft, Proposed) else None
    left_open: list[str] = []
    while draft is not None:
        question = next((one for one in draft.survey.questions if one.id not in left_open), None)
        if question is None:
            break
        dialog = DeviceQuestion(
            question,
            can_go_back=bool(draft.survey.answers or left_open),
            can_probe=question.id == "rotation" and bool(moment_of(draft)),
        )
        given = await page.app.push_screen_wait(dialog)
        if given is None:
            return
        if given.outcome == "probe":
            page.action_survey_probe()
            return
        if given.outcome == "unsure":
            left_open.append(question.id)
        elif given.outcome == "back" and left_open:
            left_open.pop()
        else:
            survey = draft.survey
            wish = _without_last(survey) if given.outcome == "back" else _with(survey, question, given.value)
            draft = await _conclude(page, wish)
    if draft is not None:
        page.show_view("menu")


def _with(survey: Survey, question: Question, value: str) -> Callable[[], Survey]:
    from workbench.jobs.survey import answer

    return lambda: answer(survey, question, value)


def _without_last(survey: Survey) -> Callable[[], Survey]:
    from workbench.jobs.survey import take_back

    return lambda: take_back(survey)


async def _conclude(page: SurveyPage, wish: Callable[[], Survey]) -> Proposed | None:
    """What follows from an answer; thought over in a thread, for on a large card that takes a while."""
    try:
        draft = Proposed(await asyncio.to_thread(wish))
    except CardwrightError as error:
        page.workbench.say_error(error)
        return None
    page.take_draft(draft)
    return draft


# Values


async def ask_value(page: SurveyPage, finding: Finding) -> Draft | None:
    """Another value for one line of a finding; the draft with it, or None."""
    draft = page.draft
    choices = list(_choices(finding))
    if draft is None or not choices:
        return None
    at: int | None = 0
    if len(choices) > 1:
        title = f"What is to be corrected in {' '.join(describe(finding)).strip()[:60]}?"
        at = await page.app.push_screen_wait(ChoiceDialog(title, [line for line, _key, _value in choices]))
    if at is None:
        return None
    _line, key, instead = choices[at]
    if instead is not None:
        return draft.amend(finding, {key: instead}, "chosen by hand")
    before = next(line for line in finding.lines if line.key == key)
    dialog = ValueDialog(
        f"{key} of {describe(finding)[0].strip()}",
        value_text(before.value),
        note=before.why,
        check=lambda text: _typing_fault(text, before.value),
        check_whole=lambda text: fault_of(
            draft.amend(finding, {key: typed_value(text, before.value)}, "put there by hand")
        ),
    )
    text = await page.app.push_screen_wait(dialog)
    if text is None or text == value_text(before.value):
        return None
    return draft.amend(finding, {key: typed_value(text, before.value)}, "put there by hand")


def _choices(finding: Finding) -> list[tuple[Line, str, Any]]:
    """The lines of a finding, then what else they could say: a line to show, its key, and a value to take."""
    from workbench.jobs.survey.profile_text import read_value

    choices: list[tuple[Line, str, Any]] = [
        (Line.of((f"{line.key} = ", "strong"), value_text(line.value)), line.key, None)
        for line in finding.lines
    ]
    keys = {line.key for line in finding.lines}
    for other in finding.alternatives:
        key, equals, text = other.partition(" = ")
        if equals and key in keys:
            choices.append(
                (Line.of(("rather ", "muted"), (f"{key} = ", "strong"), text), key, read_value(text))
            )
    return choices


def _typing_fault(text: str, before: object) -> str | None:
    if not text.strip():
        return "a value is wanted; d leaves the finding out"
    try:
        typed_value(text, before)
    except ValueError as error:
        return f"this cannot be read as TOML: {error}"
    return None


async def ask_menu(page: SurveyPage) -> Draft | None:
    """A folder that is a menu, chosen or typed; the draft with it, or None."""
    from workbench.jobs.survey import add_menu
    from workbench.jobs.survey.by_hand import list_roots

    draft = page.draft
    if not isinstance(draft, Proposed):
        return None
    survey = draft.survey
    roots = list_roots(survey)
    lines = [*(Line.of((root, "place")) for root in roots), Line.of(("Another folder …", "strong"))]
    at = await page.app.push_screen_wait(ChoiceDialog("Which folder does the device show as a menu?", lines))
    if at is None:
        return None
    if at < len(roots):
        return Proposed(add_menu(survey, roots[at]))
    first = next(iter(draft.card.volumes))
    dialog = ValueDialog(
        "The folder of the menu",
        f"{first}:",
        note="As VOLUME:PATH; what lies in it are the entries.",
        check=lambda text: None if ":" in text else "a volume and a path are wanted: VOLUME:PATH",
        check_whole=lambda text: _menu_fault(survey, text),
    )
    typed = await page.app.push_screen_wait(dialog)
    return Proposed(add_menu(survey, typed)) if typed else None


def _menu_fault(survey: Survey, root: str) -> str | None:
    from workbench.jobs.survey import add_menu

    try:
        add_menu(survey, root)
    except CardwrightError as error:
        return error.message
    return None

"""Where the profile goes, and the menu that opens with it at once."""

from __future__ import annotations

import asyncio
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.errors import CardwrightError
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.lines import Line, cut_front
from workbench.tui.path_dialog import PathDialog
from workbench.tui.survey_draft import Existing, fault_of
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.card.volumes import Card
    from workbench.changes.plan import Plan
    from workbench.tui.desk import Wish
    from workbench.tui.survey_draft import Draft
    from workbench.tui.survey_page import SurveyPage


@dataclass(frozen=True, slots=True)
class Goal:
    """One place for the profile: a file on this computer, or a volume of the card."""

    words: str
    place: str
    file: Path | None = None
    role: str = ""

    def line(self, width: int) -> Line:
        return Line.of(
            (f"{self.words}  ", "strong"), (cut_front(self.place, width - len(self.words) - 6), "place")
        )


async def save(page: SurveyPage, *, asks: bool) -> None:
    """Save, and open the menu with the profile; to the likeliest place, or to one that is asked for."""
    draft = page.draft
    if draft is None:
        return
    if not asks and not page.has_menu:
        page.workbench.say("The profile names no menu yet: n names one. S saves it all the same.")
        return
    fault = await asyncio.to_thread(fault_of, draft)
    if fault is not None:
        page.workbench.say(f"! The profile cannot be saved: {fault}", "error")
        return
    try:
        goals = await asyncio.to_thread(_goals, draft)
    except CardwrightError as error:
        page.workbench.say_error(error)
        return
    goal = await _ask_goal(page, draft, goals) if asks else goals[0]
    if goal is not None:
        await _save_to(page, draft, goal)


async def _ask_goal(page: SurveyPage, draft: Draft, goals: list[Goal]) -> Goal | None:
    width = min(70, page.app.size.width * 94 // 100) - 4
    title = f"Save the profile of {draft.name}, and open the menu with it"
    lines = [*(goal.line(width) for goal in goals), Line.of(("A file of your choice …", "strong"))]
    at = await page.app.push_screen_wait(ChoiceDialog(title, lines))
    if at is None or at < len(goals):
        return None if at is None else goals[at]
    typed = await page.app.push_screen_wait(
        PathDialog("Save the profile in which new file?", page.last_folder, verb="save it there")
    )
    return _file_goal(page, typed) if typed else None


def _file_goal(page: SurveyPage, typed: str) -> Goal | None:
    place = Path(typed).expanduser()
    if place.exists() or place.is_symlink():
        page.workbench.say(f"! {place} is there already and was left as it is. Name another file.", "error")
        return None
    return Goal("A file", str(place), place)


def _goals(draft: Draft) -> list[Goal]:
    """The places that a profile can go to, the likeliest first."""
    from workbench.jobs.survey.keeping import place_on_card
    from workbench.tui.survey_work import user_place

    user = user_place(draft)
    goals = [Goal("Your configuration folder", str(user), user)]
    if isinstance(draft, Existing) and _is_ours_to_write(draft):
        goals.insert(0, Goal("Where it came from", str(draft.sheet.source), draft.sheet.source))
    on_card = [place_on_card(volume.role) for volume in draft.card.present if not volume.read_only]
    goals += [Goal("Onto the card, as a plan", str(at), role=at.volume) for at in on_card]
    return goals


def _is_ours_to_write(draft: Existing) -> bool:
    """Whether the profile came from a file of the user's: not from us, and not from a card."""
    from workbench.assets import find_assets

    source = draft.sheet.source.resolve()
    apart = [find_assets("fixtures").resolve(), *(volume.root.resolve() for volume in draft.card.present)]
    return not any(source.is_relative_to(folder) for folder in apart)


async def _save_to(page: SurveyPage, draft: Draft, goal: Goal) -> None:
    from workbench.tui.survey_work import adopt_for_card, save_in_file

    try:
        if goal.file is not None:
            card = await asyncio.to_thread(save_in_file, draft, goal.file)
        else:
            card = await asyncio.to_thread(adopt_for_card, draft, goal.role)
    except CardwrightError as error:
        page.workbench.say_error(error)
        return
    content = draft.text().encode()
    page.forget()
    open_with(page, card)
    if goal.file is not None:
        known = "; this card is known from now on" if card.profile and card.profile.origin == "user" else ""
        page.workbench.say(f"The profile is in {goal.file}{known}.")
    else:
        page.workbench.wish(_put_on_card(content, goal.role))
        page.workbench.say("The profile is in use. It waits in the plan: w writes it onto the card.")


def open_with(page: SurveyPage, card: Card) -> None:
    """Open the menu of the card with the profile that it has now."""
    bench, profile = page.workbench, card.profile
    assert profile is not None
    if profile.origin != "card":
        bench.profiles = (profile, *(one for one in bench.profiles if one.source != profile.source))
    bench.open_card(card)


def _put_on_card(content: bytes, role: str) -> Wish:
    def plan(tree: Tree, profile: Profile) -> Plan:  # noqa: ARG001 - as every wish
        from workbench.jobs.survey.keeping import plan_on_card

        return plan_on_card(tree, content, role)

    return plan

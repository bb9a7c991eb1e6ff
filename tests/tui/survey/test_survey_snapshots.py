"""How the survey's page looks, at 80×24 and at 120×40. Pictures are compared as SVG text."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import NARROW, WIDE, bench_of, labels_read, open_bench, texts, until
from survey_bench import answer_all, look_at, open_unknown_bench, page_of, surveyed
from textual.pilot import Pilot

from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.survey_dialogs import ValueDialog
from workbench.tui.survey_page import SurveyPage

Before = Callable[[Pilot[int]], Awaitable[None]]


@pytest.fixture(autouse=True)
def no_other_cards(monkeypatch: pytest.MonkeyPatch) -> None:
    """Cards of this host are not noticed."""
    monkeypatch.setattr("workbench.tui.app.LOOK_EVERY_S", 3600)


async def settled(pilot: Pilot[int]) -> None:
    """Nothing is being read any more."""
    await until(pilot, lambda: texts(pilot, "#evidence") if pilot.app.screen.query("#evidence") else True)
    await until(pilot, lambda: not page_of(pilot).workers or pilot.app.screen is not page_of(pilot))
    await pilot.pause(0.3)
    await until(pilot, lambda: not page_of(pilot).workers or pilot.app.screen is not page_of(pilot))


async def question(pilot: Pilot[int]) -> None:
    await surveyed(pilot)
    await settled(pilot)


async def findings(pilot: Pilot[int]) -> None:
    await surveyed(pilot)
    await pilot.press("escape", *["down"] * 10, "t", "down", "d", "down")
    await settled(pilot)


async def menu(pilot: Pilot[int]) -> None:
    page = await surveyed(pilot)
    assert page.draft
    await answer_all(pilot, look_at("fernway", page.draft.card.present[0].root.parent))
    await settled(pilot)


async def text(pilot: Pilot[int]) -> None:
    await surveyed(pilot)
    await pilot.press("escape", "v", "v")
    await settled(pilot)


async def correcting(pilot: Pilot[int]) -> None:
    await surveyed(pilot)
    await pilot.press("escape", "down", "c")
    await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
    await pilot.press("enter")
    await until(pilot, lambda: isinstance(pilot.app.screen, ValueDialog))
    field = pilot.app.screen.query_one("#dialog-input")
    field.cursor_blink = False  # type: ignore[attr-defined]
    field.value = "wide"  # type: ignore[attr-defined]
    await pilot.press("enter")
    await pilot.pause()


SCREENS: dict[str, Before] = {
    "question": question,
    "findings": findings,
    "menu": menu,
    "text": text,
    "correcting": correcting,
}


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
@pytest.mark.parametrize("screen", SCREENS)
def test_survey_of_an_unknown_card(
    snap_compare: Any, practice_card: Callable[[str], Path], screen: str, size: tuple[int, int]
) -> None:
    """From the first question to the menu."""
    bench = open_unknown_bench(practice_card("fernway"))
    assert snap_compare(bench, terminal_size=size, run_before=SCREENS[screen])


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_an_existing_profile(
    snap_compare: Any, practice_card: Callable[[str], Path], size: tuple[int, int]
) -> None:
    """Its parts, and what they match."""

    async def tried(pilot: Pilot[int]) -> None:
        await labels_read(pilot)
        await pilot.press("7")
        await until(pilot, lambda: isinstance(bench_of(pilot).page, SurveyPage))
        await until(pilot, lambda: page_of(pilot).tried is not None)
        await pilot.press(*["down"] * 9)
        await settled(pilot)

    assert snap_compare(
        open_bench(practice_card("larkspur"), "larkspur"), terminal_size=size, run_before=tried
    )


def test_the_survey_in_the_light_theme(snap_compare: Any, practice_card: Callable[[str], Path]) -> None:
    """Signs and words carry the meaning there, too."""

    async def light(pilot: Pilot[int]) -> None:
        await findings(pilot)
        await pilot.press("T")

    assert snap_compare(open_unknown_bench(practice_card("fernway")), terminal_size=NARROW, run_before=light)


def test_a_card_without_a_menu(snap_compare: Any, tmp_path: Path) -> None:
    """It is said what can be done."""
    (tmp_path / "card").mkdir()
    assert snap_compare(open_unknown_bench(tmp_path / "card"), terminal_size=NARROW, run_before=question)

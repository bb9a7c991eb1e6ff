"""The test picture from the survey's page: up, looked at, answered, and the old splash is back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, until
from survey_bench import answer_all, look_at, open_unknown_bench, page_of, surveyed
from textual.pilot import Pilot

from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.dialog import Question
from workbench.tui.survey_dialogs import DeviceQuestion
from workbench.tui.write_dialog import WriteDialog

TURNS = {0: 0, 1: 90, 2: 180}
"""By the letter's place, clockwise from the top of the picture as it is stored: the turn that rights it."""


async def confirm(pilot: Pilot[int]) -> None:
    """Write what is asked for."""
    bench = bench_of(pilot)
    await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
    await pilot.press("enter")
    await until(pilot, lambda: not isinstance(pilot.app.screen, WriteDialog) and not bench.is_writing)


async def answer_probe(pilot: Pilot[int], letter: int, bars: int) -> None:
    """Say what was seen, and let the old splash go back."""
    await until(pilot, lambda: isinstance(pilot.app.screen, Question))
    await pilot.press("y")
    for place in (letter, bars):
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press(*["down"] * place, "enter")
        await pilot.pause()
    await confirm(pilot)


@pytest.mark.parametrize("letter", [0, 1, 2])
async def test_the_letter_at_the_top_settles_the_rotation(
    practice_card: Callable[[str], Path], tree_bytes: Callable[[Path], dict[str, Any]], letter: int
) -> None:
    """From the question itself; the splash is put back byte for byte, and the panel turned as it was seen."""
    folder = practice_card("fernway")
    before = tree_bytes(folder)
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        assert pilot.app.screen._question.id == "rotation"  # type: ignore[attr-defined]
        await pilot.press("p")
        await confirm(pilot)
        await until(pilot, lambda: bench_of(pilot).notice)
        changed = {path for path, content in tree_bytes(folder).items() if before.get(path) != content}
        assert changed == {"main/hello/first.bmp.gz"}
        await pilot.press("p")
        await answer_probe(pilot, letter, 0)
        await until(pilot, lambda: (page.draft and f"{TURNS[letter]}" in page.draft.text()) or not letter)
        assert page.draft
        text = page.draft.text()
        turn = TURNS[letter]
        assert (f"rotate = {turn}" in text) == bool(turn)
        width, height = (640, 480) if turn in (90, 270) else (480, 640)
        assert f"width = {width}" in text and f"height = {height}" in text
    assert tree_bytes(folder) == before


async def test_a_picture_that_is_up_is_asked_about_when_the_card_comes_back(
    practice_card: Callable[[str], Path], tree_bytes: Callable[[Path], dict[str, Any]]
) -> None:
    """The workbench was left meanwhile: the next survey begins with what was seen."""
    folder = practice_card("fernway")
    before = tree_bytes(folder)
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await pilot.press("p")
        await confirm(pilot)
    assert tree_bytes(folder) != before
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await answer_probe(pilot, 3, 0)
        await until(pilot, lambda: isinstance(pilot.app.screen, DeviceQuestion))
        assert pilot.app.screen._question.id == "order-1"  # type: ignore[attr-defined]
        await answer_all(pilot, look_at("fernway", folder))
        draft = page_of(pilot).draft
        assert draft and "rotate = 270" in draft.text()
    assert tree_bytes(folder) == before

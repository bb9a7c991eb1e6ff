"""Letting go of kept copies from the history page: asked for, done, and seen on the page afterwards."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_app import bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot

from workbench.changes.apply import apply
from workbench.changes.ledger import read_history
from workbench.jobs.splash import plan_blank
from workbench.tui.dialog import Question


async def open_history(pilot: Pilot[int]) -> None:
    """The history of a card whose splash was blanked once."""
    await labels_read(pilot)
    desk = bench_of(pilot).desk
    assert desk is not None and desk.profile is not None
    apply(desk.card, plan_blank(desk.disk, desk.profile, ("start",), "#102030"))
    await pilot.press("4")
    await until(pilot, lambda: any("KiB" in line for line in texts(pilot, "#change")))


def changes_of(pilot: Pilot[int]) -> Any:
    desk = bench_of(pilot).desk
    assert desk is not None
    return read_history(desk.card)


async def test_a_change_lets_go_after_a_question(practice_card: Callable[[str], Path]) -> None:
    """The question says what can then not be undone; afterwards the page says that it was let go."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await open_history(pilot)
        await pilot.press("x")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        said = " ".join(line.text for line in pilot.app.screen.query_one("#dialog-text").lines)  # type: ignore[attr-defined]
        assert "not be taken back any more" in said and "hello.bmp" in said
        await pilot.press("y")
        await until(pilot, lambda: any("let go" in line for line in texts(pilot, "#change")))
        assert [change.let_go for change in changes_of(pilot)] == [True]


async def test_stepping_back_removes_nothing(practice_card: Callable[[str], Path]) -> None:
    """Escape, also after the key was pressed twice."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await open_history(pilot)
        await pilot.press("x", "x")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("escape")
        await until(pilot, lambda: not isinstance(pilot.app.screen, Question))
        assert [change.let_go for change in changes_of(pilot)] == [False]
        assert len(pilot.app.screen_stack) <= 2


async def test_a_let_go_splash_is_marked_on_the_splash_page(practice_card: Callable[[str], Path]) -> None:
    """In the list of what is kept for the moment."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await open_history(pilot)
        await pilot.press("x")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("y")
        await until(pilot, lambda: any("let go" in line for line in texts(pilot, "#change")))
        await pilot.press("2")
        await until(pilot, lambda: any("let go" in line for line in texts(pilot, "#kept")))

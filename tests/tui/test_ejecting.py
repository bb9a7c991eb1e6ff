"""Letting the card go from the workbench, by keyboard; unmounting itself is tested elsewhere."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from test_menu_page import rename

from workbench.changes import leaving
from workbench.changes.leaving import Leaving
from workbench.host.leaving.holders import Holder
from workbench.tui.cards_page import CardsPage
from workbench.tui.dialog import Question

PracticeCard = Callable[[str], Path]


def told(pilot) -> str:
    """The text of the question that is open."""
    screen = pilot.app.screen
    return screen._text if type(screen) is Question else ""


async def test_a_folder_is_flushed_and_there_is_nothing_to_pull(practice_card: PracticeCard):
    """One key; the card stays open."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await pilot.press("E")
        await until(pilot, lambda: "nothing to pull" in told(pilot))
        await pilot.press("enter")
        await until(pilot, lambda: pilot.app.screen is bench_of(pilot).menu_page)
        assert bench_of(pilot).desk is not None


async def test_a_card_that_was_unmounted_is_no_longer_open(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
):
    """It is safe, and the page of the cards comes."""
    gone = Leaving(unmounted=["/media/CARD"], safe=True, powered_off="The drive was switched off.")
    monkeypatch.setattr(leaving, "leave", lambda *_, **__: gone)
    async with open_bench(practice_card("fernway"), "fernway").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await pilot.press("E")
        await until(pilot, lambda: "safe to pull the card now" in told(pilot))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, CardsPage))
        assert bench_of(pilot).desk is None


async def test_who_holds_the_card_is_named(practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch):
    """And it stays open."""
    held = Leaving(
        refused="/media/CARD is still mounted: a program still uses it: a\x1b[31mviewer (process 7) with /x.",
        holders=(Holder(7, "a viewer", "/x"),),
    )
    monkeypatch.setattr(leaving, "leave", lambda *_, **__: held)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await pilot.press("E")
        await until(pilot, lambda: "Do NOT pull" in told(pilot))
        await pilot.press("escape")
        await until(pilot, lambda: pilot.app.screen is bench_of(pilot).menu_page)
        assert bench_of(pilot).desk is not None


async def test_a_waiting_plan_asks_first(practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch):
    """Stepping back leaves the card as it is; `e` lets it go and keeps the plan."""
    calls = []
    monkeypatch.setattr(leaving, "leave", lambda *_, **__: calls.append(1) or Leaving(safe=True))
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "half way")
        await pilot.press("E")
        await until(pilot, lambda: "not written yet" in told(pilot))
        await pilot.press("escape")
        await until(pilot, lambda: pilot.app.screen is bench_of(pilot).menu_page)
        assert not calls
        await pilot.press("E")
        await until(pilot, lambda: "not written yet" in told(pilot))
        await pilot.press("e")
        await until(pilot, lambda: "nothing to pull" in told(pilot))
        assert calls and bench_of(pilot).desk is not None and bench_of(pilot).desk.waiting

"""The workbench on a card, for tests; and waiting on a condition instead of sleeping."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from pathlib import Path

from textual.pilot import Pilot

from workbench.assets import find_assets
from workbench.card.discovery import open_card
from workbench.card.profile_reader import read_profile
from workbench.tui.app import Workbench
from workbench.tui.desk import Desk
from workbench.tui.menu_page import MenuPage

WIDE = (120, 40)
NARROW = (80, 24)


def open_bench(folder: Path, device: str) -> Workbench:
    """The workbench on a practice card in a folder."""
    profile = read_profile(find_assets("fixtures") / "profiles" / f"{device}.toml")
    return Workbench(Desk(open_card(str(folder), [profile], profile)), [profile])


async def until(pilot: Pilot[int], holds: Callable[[], object]) -> None:
    """Let the workbench go on until something holds; fails after twenty seconds."""
    try:
        async with asyncio.timeout(20):
            while not holds():
                await pilot.pause(0.01)
    except TimeoutError:
        told = getattr(pilot.app, "notice", None)
        raise AssertionError(f"never came to hold; told: {told}; on {pilot.app.screen!r}") from None
    await pilot.pause()


async def labels_read(pilot: Pilot[int]) -> MenuPage:
    """Wait until the menu has its shown names."""
    page = bench_of(pilot).menu_page
    await until(pilot, lambda: page.query("#entries") and page.entries.rows and page._has_labels)
    return page


def bench_of(pilot: Pilot[int]) -> Workbench:
    """The app, as what it is."""
    assert isinstance(pilot.app, Workbench)
    return pilot.app


def texts(pilot: Pilot[int], selector: str) -> list[str]:
    """The lines of a list of ours on the open screen."""
    from workbench.tui.line_list import LineList

    return [line.text for line in pilot.app.screen.query_one(selector, LineList).lines]

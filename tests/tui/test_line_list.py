"""The list: a cursor, little repainting, the same at any length."""

from __future__ import annotations

from typing import Any

import pytest
from textual.app import App, ComposeResult
from textual.geometry import Region

from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.tones import FALLBACKS


class ListApp(App[None]):
    """One list and nothing else."""

    CSS = "LineList { height: 100%; }"

    def __init__(self, count: int) -> None:
        super().__init__()
        self.count = count
        self.chosen: list[int] = []

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FALLBACKS

    def compose(self) -> ComposeResult:
        yield LineList()

    def on_mount(self) -> None:
        self.list.show([Line.of(f"line {n}") for n in range(self.count)])
        self.list.focus()

    @property
    def list(self) -> LineList:
        return self.query_one(LineList)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        self.chosen.append(message.index)


@pytest.mark.parametrize(
    ("keys", "cursor"),
    [
        (["down", "j", "up"], 1),
        (["k"], 0),
        (["end"], 99),
        (["G", "down"], 99),
        (["G", "g"], 0),
        (["pagedown"], 19),
        (["pagedown", "pageup"], 0),
    ],
)
async def test_keys_move_the_cursor(keys: list[str], cursor: int) -> None:
    """Arrows and vi letters; it stops at both ends."""
    app = ListApp(100)
    async with app.run_test(size=(40, 20)) as pilot:
        await pilot.press(*keys)
        assert app.list.cursor == cursor


async def test_enter_chooses_the_line() -> None:
    """The message names it."""
    app = ListApp(5)
    async with app.run_test() as pilot:
        await pilot.press("down", "enter")
        assert app.chosen == [1]


async def test_an_empty_list_chooses_nothing() -> None:
    """No line, no message, no crash."""
    app = ListApp(0)
    async with app.run_test() as pilot:
        await pilot.press("down", "enter", "G", "pagedown")
        assert (app.chosen, app.list.cursor) == ([], 0)


@pytest.mark.parametrize("count", [20, 2000])
async def test_a_move_repaints_two_rows(monkeypatch: pytest.MonkeyPatch, count: int) -> None:
    """Whatever the length; at the lower edge the list scrolls once, by half a page."""
    app = ListApp(count)
    async with app.run_test(size=(40, 10)) as pilot:
        painted: list[tuple[Region, ...]] = []
        refresh = app.list.refresh

        def note(*regions: Region, **wishes: Any) -> Any:
            painted.append(regions)
            return refresh(*regions, **wishes)

        monkeypatch.setattr(app.list, "refresh", note)
        await pilot.press("down")
        rows = [region for regions in painted for region in regions]
        assert [(region.y, region.height) for region in rows] == [(0, 1), (1, 1)]
        await pilot.press(*["down"] * 9)
        assert (app.list.cursor, app.list.top) == (10, 5)


async def test_an_upward_move_scrolls_half_a_page_too() -> None:
    """The cursor then stands in the middle."""
    app = ListApp(100)
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press("end", *["up"] * 10)
        assert app.list.cursor - app.list.top == 5

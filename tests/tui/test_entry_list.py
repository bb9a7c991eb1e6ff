"""Taking, carrying and placing one entry."""

from __future__ import annotations

from typing import Any

import pytest
from textual.app import App, ComposeResult

from workbench.tui.entry_list import EntryList, EntryRow
from workbench.tui.tones import FALLBACKS

NAMES = ("alpha", "beta", "gamma", "delta")


class EntryApp(App[None]):
    """One menu of four entries."""

    def __init__(self) -> None:
        super().__init__()
        self.placed: list[tuple[Any, ...]] = []

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FALLBACKS

    def compose(self) -> ComposeResult:
        yield EntryList([EntryRow(name, "", entry=name) for name in NAMES])

    @property
    def entries(self) -> EntryList:
        return self.query_one(EntryList)

    @property
    def names(self) -> list[str]:
        return [row.name for row in self.entries.rows]

    def on_entry_list_place_requested(self, message: EntryList.PlaceRequested) -> None:
        self.placed.append((message.entry, message.spot, message.neighbour))


@pytest.mark.parametrize(
    ("keys", "placed"),
    [
        (["enter", "down", "enter"], ("alpha", "after", "beta")),
        (["enter", "end", "enter"], ("alpha", "last", None)),
        (["G", "enter", "home", "enter"], ("delta", "first", None)),
        (["G", "enter", "k", "enter"], ("delta", "after", "beta")),
    ],
)
async def test_an_entry_is_placed_beside_its_new_neighbour(keys: list[str], placed: tuple[Any, ...]) -> None:
    """Take, move, place: one message says where."""
    app = EntryApp()
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press(*keys)
        assert app.placed == [placed]
        assert not app.entries.is_carrying


async def test_placing_where_it_was_asks_for_nothing() -> None:
    """Down and up again is no wish."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await pilot.press("enter", "down", "up", "enter")
        assert app.placed == []


async def test_putting_back_restores_the_order_and_the_cursor() -> None:
    """The cursor stays with the entry."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await pilot.press("down", "enter", "down", "down")
        assert app.names == ["alpha", "gamma", "delta", "beta"]
        app.entries.put_back()
        assert (app.names, app.entries.cursor) == (list(NAMES), 1)


async def test_a_taken_entry_is_marked_without_colour() -> None:
    """A sign of its own stands in front of it."""
    app = EntryApp()
    async with app.run_test() as pilot:
        assert app.entries.glyph_at(0) == "› "
        await pilot.press("enter")
        assert app.entries.glyph_at(0) == "↕ "


def test_a_row_shows_label_name_and_what_waits() -> None:
    """The shown name first, the name on the card in brackets, a sign and a word for what waits."""
    assert EntryRow("Boats", "").line.text == "Boats"
    assert EntryRow("aa Boats", "Boats", "moved").line.text == "Boats  (aa Boats)* moved"

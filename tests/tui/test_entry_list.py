"""Taking, marking, carrying and placing entries: the list shows the wanted order at once, and says it."""

from __future__ import annotations

import pytest
from textual.app import App, ComposeResult

from workbench.tui.entry_list import EntryList, Wanted
from workbench.tui.entry_row import EntryRow
from workbench.tui.tones import FALLBACKS

NAMES = ("alpha", "beta", "gamma", "delta", "Épsilon")


class EntryApp(App[None]):
    """One menu of five entries."""

    def __init__(self, names: tuple[str, ...] = NAMES) -> None:
        super().__init__()
        self.given = names
        self.wanted: list[Wanted] = []
        self.carried: list[Wanted] = []

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FALLBACKS

    def compose(self) -> ComposeResult:
        yield EntryList([EntryRow(name, "", entry=name) for name in self.given])

    @property
    def entries(self) -> EntryList:
        return self.query_one(EntryList)

    @property
    def names(self) -> list[str]:
        return [row.name for row in self.entries.rows]

    def on_entry_list_order_wanted(self, message: EntryList.OrderWanted) -> None:
        self.wanted.append(message.wanted)

    def on_entry_list_carried(self, message: EntryList.Carried) -> None:
        self.carried.append(message.wanted)


async def mark(app: EntryApp, *places: int) -> None:
    """Mark the entries at these places, in this order."""
    for place in places:
        app.entries.move_cursor(place)
        app.entries.toggle_mark()


@pytest.mark.parametrize(
    ("keys", "title", "order"),
    [
        (["enter", "down", "enter"], "Place alpha after beta", "bagde"),
        (["enter", "end", "enter"], "Send alpha last", "bgdea"),
        (["G", "enter", "home", "enter"], "Send Épsilon first", "eabgd"),
        (["down", "enter", "pagedown", "k", "enter"], "Place beta after delta", "agdbe"),
    ],
)
async def test_one_entry_is_taken_moved_and_placed(keys: list[str], title: str, order: str) -> None:
    """One message says what is wanted; arrows, page keys and the ends all carry."""
    app = EntryApp()
    async with app.run_test(size=(40, 10)) as pilot:
        await pilot.press(*keys)
        assert [one.title for one in app.wanted] == [title]
        assert "".join(name[0].replace("É", "e") for name in app.names) == order
        assert app.wanted[0].keys == tuple(app.names) and not app.entries.is_carrying
        assert [str(one)[0].lower().replace("é", "e") for one in app.wanted[0].carried] == [
            {"alpha": "a", "beta": "b", "Épsilon": "e"}[title.split()[1]]
        ]


async def test_placing_where_it_was_asks_for_nothing() -> None:
    """Down and up again is no wish."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await pilot.press("enter", "down", "up", "enter")
        assert app.wanted == [] and len(app.carried) == 2


async def test_putting_back_restores_the_order_and_the_cursor() -> None:
    """The cursor stays with the entry."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await pilot.press("down", "enter", "down", "down")
        assert app.names[:4] == ["alpha", "gamma", "delta", "beta"]
        assert app.entries.put_back()
        assert (app.names, app.entries.cursor) == (list(NAMES), 1)
        assert not app.entries.put_back()


async def test_marked_entries_are_carried_together_in_the_order_of_their_marks() -> None:
    """They gather at the cursor, move as one, and keep the order in which they were marked."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await mark(app, 3, 0)
        await pilot.press("enter")
        assert app.names == ["delta", "alpha", "beta", "gamma", "Épsilon"]
        await pilot.press("down", "enter")
        assert app.names == ["beta", "delta", "alpha", "gamma", "Épsilon"]
        assert app.wanted[0].title == "Place 2 entries after beta" and app.entries.marked == ()


async def test_a_carried_block_stops_at_the_ends() -> None:
    """At the end it stays whole; home takes it to the top."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await mark(app, 0, 1)
        await pilot.press("enter", *["down"] * 9)
        assert app.names[3:] == ["alpha", "beta"] and app.entries.cursor == 4
        await pilot.press("home")
        assert app.names == list(NAMES)


@pytest.mark.parametrize(
    ("marks", "cursor", "act", "order"),
    [
        ((4, 1), 0, "first", "ebagd"),
        ((3, 0), 0, "last", "bgeda"),
        ((), 2, "last", "abdeg"),
        ((4, 0), 2, "before", "beagd"),
        ((4, 0), 2, "after", "bgead"),
    ],
)
async def test_moves_in_one_go(marks: tuple[int, ...], cursor: int, act: str, order: str) -> None:
    """To the ends, and beside the entry under the cursor."""
    app = EntryApp()
    async with app.run_test():
        await mark(app, *marks)
        app.entries.move_cursor(cursor)
        done = app.entries.send(act) if act in ("first", "last") else app.entries.place_beside(act)  # type: ignore[arg-type]
        assert done and "".join(name[0].replace("É", "e") for name in app.names) == order


async def test_beside_needs_marks_and_a_neighbour_that_is_not_marked() -> None:
    """Otherwise nothing is wanted."""
    app = EntryApp()
    async with app.run_test():
        assert not app.entries.place_beside("before")
        await mark(app, 0, 1)
        app.entries.move_cursor(1)
        assert not app.entries.place_beside("after")


async def test_sorting_goes_by_what_is_shown() -> None:
    """Case and accents aside, digits by their value; sorted again, nothing changes."""
    app = EntryApp(("Zoo", "boats 10", "Boats 2", "Éclair", "apple"))
    async with app.run_test():
        assert app.entries.sort()
        assert app.names == ["apple", "Boats 2", "boats 10", "Éclair", "Zoo"]
        assert not app.entries.sort()


async def test_marked_entries_are_sorted_and_turned_round_in_their_own_places() -> None:
    """The others stay where they are."""
    app = EntryApp()
    async with app.run_test():
        await mark(app, 4, 0, 3)
        assert app.entries.reverse()
        assert app.names == ["Épsilon", "beta", "gamma", "delta", "alpha"]
        await mark(app, 0, 3, 4)
        assert app.entries.sort()
        assert app.names == ["alpha", "beta", "gamma", "delta", "Épsilon"]


@pytest.mark.parametrize(("start", "end"), [(1, 3), (3, 1)])
async def test_a_range_is_marked_from_the_last_mark_to_the_cursor(start: int, end: int) -> None:
    """In the direction in which it was asked for."""
    app = EntryApp()
    async with app.run_test():
        await mark(app, start)
        app.entries.move_cursor(end)
        app.entries.mark_range()
        span = list(NAMES[1:4]) if start < end else list(NAMES[3:0:-1])
        assert list(app.entries.marked) == span


async def test_what_is_taken_or_marked_is_told_by_sign_and_word() -> None:
    """Not by colour alone: a sign in front of it, and a word with the mark's number."""
    app = EntryApp()
    async with app.run_test() as pilot:
        assert app.entries.glyph_at(0) == "› "
        await mark(app, 2, 0)
        assert app.entries.glyph_at(2) == " •" and app.entries.glyph_at(1) == "› "
        assert "• marked 2" in app.entries.line_at(0).text
        await pilot.press("enter")
        assert [app.entries.glyph_at(n) for n in (0, 1)] == ["↕ ", "↕ "]
        assert "↕ taken" in app.entries.line_at(0).text


async def test_what_is_carried_outlives_a_menu_that_is_read_again() -> None:
    """The same entries under other names: the wanted order stays on the screen; put back still works."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await pilot.press("enter", "down", "down")
        app.entries.show_rows([EntryRow(f"{name}!", "", key=name) for name in NAMES])
        assert app.names == ["beta!", "gamma!", "alpha!", "delta!", "Épsilon!"]
        assert app.entries.is_carrying
        app.entries.put_back()
        assert app.names == [f"{name}!" for name in NAMES]


async def test_marks_of_entries_that_are_gone_go_too() -> None:
    """And a menu that is another one puts down what was carried."""
    app = EntryApp()
    async with app.run_test() as pilot:
        await mark(app, 0, 1)
        await pilot.press("enter")
        app.entries.show_rows([EntryRow(name, "") for name in NAMES[1:]])
        assert app.entries.marked == ("beta",) and not app.entries.is_carrying


def test_a_row_shows_label_name_and_what_waits() -> None:
    """The shown name first, the name on the card in brackets, a sign and a word for what waits."""
    assert EntryRow("Boats", "").line.text == "Boats"
    assert EntryRow("aa Boats", "Boats", "moved").line.text == "Boats  (aa Boats)* moved"

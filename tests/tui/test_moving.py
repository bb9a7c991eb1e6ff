"""Moving entries on the page: shown at once, planned when the keys fall silent, each taken back alone."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from test_menu_page import rename, write
from textual.pilot import Pilot

from workbench.card.disk_tree import DiskTree
from workbench.changes.ledger import read_history
from workbench.errors import OrderRefusedError
from workbench.jobs import arrange
from workbench.tui.leave_dialog import LeaveDialog
from workbench.tui.line_view import LineView
from workbench.tui.menu_page import MenuPage
from workbench.tui.nearest_dialog import NearestDialog
from workbench.tui.write_dialog import WriteDialog

PracticeCard = Callable[[str], Path]


def origins(page: MenuPage) -> list[str]:
    """The entries on the screen, by their names on the card now."""
    return [row.origin.name for row in page.entries.rows if row.origin]


def strip(pilot: Pilot[int]) -> str:
    """What the strip says."""
    return "\n".join(line.text for line in bench_of(pilot).menu_page.query_one("#plan-strip", LineView).lines)


async def planned(pilot: Pilot[int], wishes: int = 1) -> None:
    """Wait until nothing is being planned, and so many wishes wait."""
    bench = bench_of(pilot)
    await until(pilot, lambda: not bench.is_planning)
    await until(pilot, lambda: bench.desk and len(bench.desk.waiting.wishes) == wishes)


@pytest.fixture
def plans(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Every order that the job is asked for, as it goes on to plan it."""
    asked: list[list[str]] = []
    real = arrange.plan_order

    def plan_order(tree: Any, profile: Any, menu: Any, wanted: Sequence[str], **how: Any) -> Any:
        asked.append(list(wanted))
        return real(tree, profile, menu, wanted, **how)

    monkeypatch.setattr(arrange, "plan_order", plan_order)
    return asked


async def test_marked_entries_go_to_the_top_in_the_order_of_their_marks(
    practice_card: PracticeCard, read_device: Callable[[str, Path], dict[str, Any]]
) -> None:
    """One wish, however many moves; once written, the device's own reader shows that order."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = [row.label or row.name for row in page.entries.rows]
        await pilot.press(*["down"] * 9, "m", *["up"] * 6, "m", *["down"] * 11, "m", "f")
        wanted = [before[n] for n in (9, 4, 16)]
        assert [row.label or row.name for row in page.entries.rows][:3] == wanted
        await planned(pilot)
        await write(pilot)
        await until(pilot, lambda: not any(row.waiting for row in page.entries.rows))
    shown = [entry["label"] for entry in read_device("larkspur", folder)["menus"][0]["entries"]]
    assert shown == wanted + [label for n, label in enumerate(before) if n not in (9, 4, 16)]


async def test_the_strip_says_what_carrying_would_take(practice_card: PracticeCard) -> None:
    """Count and names in words, before anything waits; put back, nothing is left of it."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = origins(page)
        await pilot.press("space", "down", "down")
        await until(pilot, lambda: "here it takes" in strip(pilot))
        assert "rename" in strip(pilot) and " becomes " in strip(pilot)
        desk = bench_of(pilot).desk
        assert desk and not desk.waiting
        await pilot.press("escape")
        assert origins(page) == before and "here it takes" not in strip(pilot)
        await planned(pilot, 0)


async def test_moves_become_one_wish_and_are_taken_back_one_by_one(
    practice_card: PracticeCard, plans: list[list[str]]
) -> None:
    """Four moves pressed in a row are planned once; each backspace takes back the last one alone."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        seen = [origins(page)]
        bench = bench_of(pilot)
        bench.SILENCE = 3.0  # type: ignore[misc] - longer than these keys take on a busy machine
        for keys in (["e"], ["home", "e"], ["home", "down", "f"], ["R"]):
            await pilot.press(*keys)
            seen.append(origins(page))
        del bench.SILENCE
        await planned(pilot)
        assert len(plans) == 1 and seen[-1] == origins(page)
        for earlier in (seen[3], seen[2], seen[1]):
            await pilot.press("backspace")
            assert origins(page) == earlier
            await planned(pilot)
        await pilot.press("backspace")
        assert origins(page) == seen[0]
        await planned(pilot, 0)


async def test_the_list_never_waits_for_a_plan(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """While one plan takes its time, moves are shown at once; its result comes too late and is dropped."""
    held, real, asked = Event(), arrange.plan_order, []

    def slow(tree: Any, profile: Any, menu: Any, wanted: Sequence[str], **how: Any) -> Any:
        asked.append(wanted)
        if len(asked) == 1:
            assert held.wait(20)
        return real(tree, profile, menu, wanted, **how)

    monkeypatch.setattr(arrange, "plan_order", slow)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        first, second = origins(page)[:2]
        await pilot.press("e")
        await until(pilot, lambda: asked)
        await pilot.press("home", "e")
        assert origins(page)[-2:] == [first, second] and "planning" in strip(pilot)
        assert bench.desk and not bench.desk.waiting
        held.set()
        await planned(pilot)
        assert len(asked) == 2 and origins(page)[-2:] == [first, second]
        assert bench.desk.waiting.arranging and len(bench.desk.waiting.arranging.moves) == 2


async def test_what_is_carried_stays_in_hand_while_a_plan_lands(practice_card: PracticeCard) -> None:
    """The menu is read again below it; the entry is placed where it was carried to."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        await pilot.press("e", "home", "space", "down", "down", "down")
        wanted = origins(page)
        await until(pilot, lambda: bench.desk and bench.desk.waiting)
        await until(pilot, lambda: any(row.waiting for row in page.entries.rows))
        assert page.entries.is_carrying and origins(page) == wanted
        await pilot.press("space")
        await planned(pilot)
        await until(pilot, lambda: bench.desk.waiting.arranging.title == "Arrange shelf, 2 moves")  # type: ignore[union-attr]
        assert origins(page) == wanted


async def test_a_wish_after_moves_finds_its_entry_by_what_it_is_called_then(
    practice_card: PracticeCard,
) -> None:
    """Sent last and at once given a name: the move is planned first, and dropping goes back through both."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        before = origins(page)
        await pilot.press("e", "r")
        await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
        pilot.app.screen.query_one("#dialog-input").value = "~~ the end"  # type: ignore[attr-defined]
        await pilot.press("enter")
        await planned(pilot, 2)
        await until(pilot, lambda: page.entries.rows[-1].name == "~~ the end")
        await pilot.press("backspace")
        await planned(pilot, 1)
        assert bench.desk and bench.desk.waiting.arranging
        await pilot.press("backspace")
        await planned(pilot, 0)
        assert origins(page) == before


async def test_moves_around_another_wish_are_two_wishes(practice_card: PracticeCard) -> None:
    """A rename between them is not reordered away; each is dropped by itself."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("e")
        await planned(pilot, 1)
        await pilot.press("home")
        await rename(pilot, "!! between")
        await pilot.press("e")
        await planned(pilot, 3)
        await pilot.press("backspace")
        await planned(pilot, 2)


@pytest.mark.parametrize(("key", "taken"), [("enter", True), ("escape", False)])
async def test_an_order_that_cannot_be_had_offers_the_nearest(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch, key: str, taken: bool
) -> None:
    """With the reason; the list goes back to the order before, or to the nearest, and nothing else waits."""
    real = arrange.plan_order

    def narrow(tree: Any, profile: Any, menu: Any, wanted: Sequence[str], **how: Any) -> Any:
        names = [entry.name for entry in menu.entries]
        if wanted[-1] == names[0]:
            raise OrderRefusedError("too narrow", nearest=(names[1], names[0], *names[2:]))
        return real(tree, profile, menu, wanted, **how)

    monkeypatch.setattr(arrange, "plan_order", narrow)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = origins(page)
        await pilot.press("e")
        await until(pilot, lambda: isinstance(pilot.app.screen, NearestDialog))
        assert origins(page) == before
        await pilot.press(key)
        await planned(pilot, int(taken))
        assert origins(page)[:2] == (before[1::-1] if taken else before[:2])


async def test_a_refused_move_leaves_those_before_it(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two moves pressed in a row, the second one refused: the first is planned and shown."""
    real = arrange.plan_order

    def narrow(tree: Any, profile: Any, menu: Any, wanted: Sequence[str], **how: Any) -> Any:
        if wanted[-2] == menu.entries[0].name:
            raise OrderRefusedError("too narrow")
        return real(tree, profile, menu, wanted, **how)

    monkeypatch.setattr(arrange, "plan_order", narrow)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        first = origins(page)[0]
        await pilot.press("e", "home", "e")
        await until(pilot, lambda: bench_of(pilot).notice)
        await planned(pilot)
        assert origins(page)[-1] == first and "too narrow" in strip(pilot)


async def test_prefixes_are_made_as_the_person_chose(practice_card: PracticeCard) -> None:
    """Letters and a dash, chosen from one list; moves that wait are planned anew that way."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        await pilot.press("end", "up", "f")
        await planned(pilot)
        await pilot.press("p", *["down"] * 9, "enter")
        await until(pilot, lambda: bench.desk.waiting.arranging.prefixing.style == "letters")  # type: ignore[union-attr]
        assert bench.desk
        assert any(new[2] == "-" and new[0] == new[1] for _old, new in bench.desk.waiting.renames)
        await until(pilot, lambda: page.entries.rows[0].name[2:3] == "-")


async def test_number_all_and_take_every_prefix_off(practice_card: PracticeCard) -> None:
    """Two wishes of their own; numbered names keep the order that is shown."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = origins(page)
        await pilot.press("n")
        await planned(pilot)
        await until(pilot, lambda: all(row.name[:3].isdigit() for row in page.entries.rows[:5]))
        assert origins(page) == before
        await pilot.press("X")
        await planned(pilot, 2)
        await until(pilot, lambda: not any(row.entry.prefix for row in page.entries.rows))


async def test_writing_places_what_is_carried(practice_card: PracticeCard) -> None:
    """`w` with an entry in hand: it is placed, planned, and asked about."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("space", "end", "w")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        desk = bench_of(pilot).desk
        assert desk and desk.waiting.wishes[-1].title.startswith("Send ")


async def test_marks_are_taken_away_before_the_page_is_left(practice_card: PracticeCard) -> None:
    """Escape steps back one thing at a time: what is carried, then the marks."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("m", "m", "space", "escape")
        assert not page.entries.is_carrying and len(page.entries.marked) == 2
        await pilot.press("escape")
        assert page.entries.marked == ()


async def test_names_that_look_like_markup_or_commands_are_carried_as_text(
    practice_card: PracticeCard,
) -> None:
    """Brackets, an escape sign, a direction override: shown as marks, never obeyed, in every state."""
    folder = practice_card("larkspur")
    for name in ("!a [b]x[-b] [USA]", "!b \x1b[31m red", "!c \u202egnp.exe"):
        (folder / "data/shelf" / name).mkdir()
    async with open_bench(folder, "larkspur").run_test(size=(80, 24)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("m", "m", "m", "space", "down")
        lines = [page.entries.render_line(y).text for y in range(6)]
        assert "!a [b]x[-b] [USA]" in "".join(lines)
        assert not any(sign in "".join(lines) + strip(pilot) for sign in "\x1b\u202e")


async def test_a_change_of_order_is_undone_to_the_byte(
    practice_card: PracticeCard, tree_bytes: Callable[[Path], dict[str, Any]]
) -> None:
    """Sorted, turned round and written; `4`, `u`, enter brings every byte and name back."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        await pilot.press("s", "R")
        wanted = origins(page)
        await planned(pilot)
        await write(pilot)
        assert tree_bytes(folder) != before and len(wanted) == len(page.entries.rows)
        await pilot.press("4")
        await until(pilot, lambda: bench.page._changes)  # type: ignore[union-attr]
        await pilot.press("u")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        assert bench.desk
        card = bench.desk.card
        await until(pilot, lambda: len(read_history(card)) == 2 and not bench.is_writing)
    assert tree_bytes(folder) == before


async def test_a_folder_that_lists_as_it_is_shows_the_order_and_takes_no_rename(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where the disk can be told an order (FAT, exFAT): names stay, and the strip says so."""
    monkeypatch.setattr(DiskTree, "order_follows_moves", lambda *_: True)
    async with open_bench(practice_card("orrery"), "orrery").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        names = [row.name for row in page.entries.rows]
        await pilot.press("space", "down", "down")
        await until(pilot, lambda: "no rename; " in strip(pilot))
        await pilot.press("space", "end", "f")
        await planned(pilot)
        wanted = [names[-1], *names[1:3], names[0], *names[3:-1]]
        await until(pilot, lambda: not pilot.app.workers)
        assert [row.name for row in page.entries.rows] == wanted
        await pilot.press("backspace")
        assert page.entries.rows[0].name == names[1]


async def test_a_move_that_is_taken_back_while_it_is_planned_leaves_no_trace(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its result comes, nobody asked for it any more, and the strip does not go on saying that it plans."""
    held, real, asked = Event(), arrange.plan_order, []

    def slow(tree: Any, profile: Any, menu: Any, wanted: Sequence[str], **how: Any) -> Any:
        asked.append(wanted)
        assert held.wait(20)
        return real(tree, profile, menu, wanted, **how)

    monkeypatch.setattr(arrange, "plan_order", slow)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = origins(page)
        for keys in (["e"], ["space", "down"]):
            asked.clear()
            held.clear()
            await pilot.press("home", *keys)
            await until(pilot, lambda: asked)
            await pilot.press("backspace")
            assert origins(page) == before
            held.set()
            await until(pilot, lambda: not pilot.app.workers)
            await planned(pilot, 0)
            assert "planning" not in strip(pilot) and origins(page) == before


async def test_what_is_carried_is_placed_when_another_page_is_opened(practice_card: PracticeCard) -> None:
    """Nothing is lost by looking something up; the move waits like any other."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        first = origins(page)[0]
        await pilot.press("space", "end", "2")
        await planned(pilot)
        await pilot.press("1")
        await until(pilot, lambda: page.entries.rows[-1].waiting or page.entries.rows[-2].waiting)
        assert origins(page)[-1] == first and not page.entries.is_carrying


async def test_leaving_waits_for_the_move_and_it_comes_back(practice_card: PracticeCard) -> None:
    """`e` and at once `q`: the question comes when the move is planned; the next start has it."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        first = origins(page)[0]
        await pilot.press("e", "q")
        await until(pilot, lambda: isinstance(pilot.app.screen, LeaveDialog))
        await until(pilot, lambda: not pilot.app.workers)
        await pilot.press("q")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await planned(pilot)
        await until(pilot, lambda: origins(page)[-1] == first)
        await pilot.press("D", "d")
        await planned(pilot, 0)
        await until(pilot, lambda: origins(page)[0] == first)


async def test_the_planner_is_told_who_was_moved(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two moves, two entries: where the work is equal these are renamed, and not their neighbours."""
    told: list[set[str]] = []
    real = arrange.plan_order

    def plan_order(*words: Any, **how: Any) -> Any:
        told.append(set(how["carried"]))
        return real(*words, **how)

    monkeypatch.setattr(arrange, "plan_order", plan_order)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        names = origins(bench_of(pilot).menu_page)
        await pilot.press("j", "e")
        await planned(pilot)
        await pilot.press("g", "e")
        await planned(pilot)
        assert told[-1] == {names[0], names[1]}

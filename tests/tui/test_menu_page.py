"""The main job on the screen: every wish by keyboard, nothing written before it is said so."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot

from workbench.changes.ledger import read_history
from workbench.tui import menu_view
from workbench.tui.actions import actions_at
from workbench.tui.app import Workbench
from workbench.tui.dialog import Dialog
from workbench.tui.page import Page
from workbench.tui.write_dialog import WriteDialog

TreeBytes = Callable[[Path], dict[str, Any]]


async def rename(pilot: Pilot[int], name: str) -> None:
    """Rename the entry under the cursor and wait for the plan."""
    bench = bench_of(pilot)
    wishes = len(bench.desk.waiting.wishes) if bench.desk else 0
    await pilot.press("r")
    await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
    pilot.app.screen.query_one("#dialog-input").value = name  # type: ignore[attr-defined]
    await pilot.press("enter")
    await until(pilot, lambda: bench.desk and len(bench.desk.waiting.wishes) == wishes + 1)


async def write(pilot: Pilot[int]) -> None:
    """Write the waiting plan."""
    bench = bench_of(pilot)
    await pilot.press("w")
    await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
    await pilot.press("enter")
    await until(pilot, lambda: bench.desk and not bench.desk.waiting and not bench.is_writing)


async def test_the_menu_is_listed_as_the_device_lists_it(
    practice_card: Callable[[str], Path], read_device: Callable[[str, Path], dict[str, Any]]
) -> None:
    """Same entries, same order, same shown names as the device's own reader."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        shown = [(row.name, row.label or row.name) for row in page.entries.rows]
    device = read_device("larkspur", folder)["menus"][0]["entries"]
    assert shown == [(entry["name"], entry["label"]) for entry in device]


async def test_the_detail_follows_the_cursor_when_the_keys_fall_silent(
    practice_card: Callable[[str], Path],
) -> None:
    """It names the entry, and every place that names it, with file and line."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("down", "down", "down")
        name = page.entries.rows[3].name
        await until(pilot, lambda: texts(pilot, "#detail")[:1] == [name])
        said = texts(pilot, "#detail")
        assert any(line.startswith("data:house/register.json") for line in said)
        assert any(line.startswith("  line ") for line in said)


async def test_a_rename_waits_is_written_and_undone_to_the_byte(
    practice_card: Callable[[str], Path], tree_bytes: TreeBytes
) -> None:
    """Nothing changes before the confirmation; undo brings every byte back."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await rename(pilot, "Ça & là's [new]")
        await until(pilot, lambda: page.entries.row and page.entries.row.waiting == "renamed")
        assert tree_bytes(folder) == before
        await write(pilot)
        assert tree_bytes(folder) != before
        await pilot.press("4")
        await until(pilot, lambda: texts(pilot, "#changes"))
        await pilot.press("u")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        bench = bench_of(pilot)
        card = bench.desk.card  # type: ignore[union-attr]
        await until(pilot, lambda: len(read_history(card)) == 2 and not bench.is_writing)
        assert tree_bytes(folder) == before


async def test_two_wishes_for_one_manifest_are_both_written(practice_card: Callable[[str], Path]) -> None:
    """Each is planned on the card as the one before leaves it; they are one change."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await rename(pilot, "!first wish")
        await pilot.press("end")
        await rename(pilot, "zz second wish")
        await write(pilot)
        await until(pilot, lambda: "zz second wish" in [row.name for row in page.entries.rows])
        bench = bench_of(pilot)
        assert bench.desk and len(read_history(bench.desk.card)) == 1
    register = (folder / "data/house/register.json").read_text("utf-8-sig")
    assert "!first wish" in register and "zz second wish" in register


async def test_take_move_place_makes_a_wish(practice_card: Callable[[str], Path]) -> None:
    """The list then shows the menu as it will be, the entry where it was put, marked in words."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        taken = page.entries.rows[0].origin
        await pilot.press("space", "down", "down", "space")
        await until(pilot, lambda: page.entries.rows[2].origin == taken)
        await until(pilot, lambda: any(row.waiting == "moved" for row in page.entries.rows))
        assert page.entries.rows[2].origin == taken and page.entries.cursor == 2


async def test_send_first_and_write_takes_three_keys(practice_card: Callable[[str], Path]) -> None:
    """`f`, `w`, enter, once the cursor is there."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        label = page.entries.rows[3].label
        await pilot.press("down", "down", "down", "f")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)  # type: ignore[union-attr]
        await write(pilot)
        await until(pilot, lambda: page.entries.rows[0].label == label)
        assert not page.entries.rows[0].waiting


async def test_escape_puts_a_taken_entry_back(practice_card: Callable[[str], Path]) -> None:
    """And no plan comes of it."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = [row.name for row in page.entries.rows]
        await pilot.press("space", "down", "escape")
        assert [row.name for row in page.entries.rows] == before
        assert not bench_of(pilot).desk.waiting  # type: ignore[union-attr]


async def test_a_refused_name_is_told_with_a_suggestion(practice_card: Callable[[str], Path]) -> None:
    """A colon is illegal on FAT; nothing waits afterwards."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("r")
        pilot.app.screen.query_one("#dialog-input").value = "a:b"  # type: ignore[attr-defined]
        await pilot.press("enter")
        await until(pilot, lambda: bench_of(pilot).notice)
        said = bench_of(pilot).notice.text
        assert said.startswith("! ") and not bench_of(pilot).desk.waiting  # type: ignore[union-attr]


async def test_sub_menus_are_turned_with_the_arrows(practice_card: Callable[[str], Path]) -> None:
    """Right goes on, left goes back, round the end."""
    async with open_bench(practice_card("fernway"), "fernway").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        assert page.menu
        first = page.menu.id
        await pilot.press("right")
        assert page.menu.id != first
        await pilot.press("left")
        assert page.menu.id == first


async def test_find_goes_to_the_entry(practice_card: Callable[[str], Path]) -> None:
    """Typing part of a name and enter."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("slash", *"zebra", "enter")
        assert page.entries.row and page.entries.row.name == "Zebra Crossing"


async def test_dropping_wishes(practice_card: Callable[[str], Path]) -> None:
    """Backspace drops the last; D asks and drops all."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        desk = bench_of(pilot).desk
        assert desk
        for name in ("one", "two", "three"):
            await rename(pilot, name)
        await pilot.press("backspace")
        assert len(desk.waiting.wishes) == 2
        await pilot.press("D", "d")
        assert not desk.waiting


async def test_a_refused_place_is_taken_back_on_the_screen(practice_card: Callable[[str], Path]) -> None:
    """Orrery's order is the directory's own, which a disk like this one cannot be told: said, and shown."""
    async with open_bench(practice_card("orrery"), "orrery").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = [row.name for row in page.entries.rows]
        await pilot.press("space", "down", "down", "space")
        await until(pilot, lambda: bench_of(pilot).notice)
        assert [row.name for row in page.entries.rows] == before and page.entries.cursor == 0


async def test_writing_waits_for_the_wish_that_is_being_planned(practice_card: Callable[[str], Path]) -> None:
    """`f` and at once `w`: the confirmation comes when the plan is there, and holds it."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("down", "down", "f", "w")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        assert len(bench_of(pilot).desk.waiting.wishes) == 1  # type: ignore[union-attr]


async def test_a_long_menu_is_read_in_one_go_and_tells_the_same(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """References, malformed manifests, doubtful places: as for a short menu, line by line."""
    folder = practice_card("larkspur")
    words = folder / "data/house/tongue/fr/words.json"
    words.write_bytes(words.read_bytes() + b"}")
    said: dict[int, list[list[str]]] = {}
    for most in (300, 3):
        monkeypatch.setattr(menu_view, "MOST_SEARCHED", most)
        async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
            page = await labels_read(pilot)
            said[most] = []
            for row in page.entries.rows[:8]:
                await until(
                    pilot,
                    lambda name=row.name: (
                        texts(pilot, "#detail")[:1] == [name]
                        and any("name" in line for line in texts(pilot, "#detail")[3:])
                        and "looking for what names it …" not in texts(pilot, "#detail")
                    ),
                )
                said[most].append(sorted(texts(pilot, "#detail")))
                await pilot.press("down")
            assert bench_of(pilot).desk.has_index(page.menu) == (most == 3)  # type: ignore[union-attr,arg-type]
    assert said[3] == said[300]
    assert any("! malformed" in line for line in said[3][0])


@pytest.mark.parametrize("state", ["no card", "no profile", "no entries", "no menu"])
async def test_every_key_of_the_menu_is_safe_where_there_is_nothing(
    practice_card: Callable[[str], Path], state: str
) -> None:
    """Each key on a page without entries: nothing breaks, nothing waits afterwards."""
    folder = practice_card("larkspur")
    if state == "no entries":
        shutil.rmtree(folder / "data/shelf")
        (folder / "data/shelf").mkdir()
    bench = open_bench(folder, "larkspur")
    assert bench.desk and bench.desk.profile
    if state == "no card":
        bench = Workbench(None)
    elif state == "no profile":
        bench.desk.profile = None
    elif state == "no menu":
        bench.desk.profile = replace(bench.desk.profile, menus=())
    keys = [key for action in actions_at("menu", "list") for key in action.key_list]
    async with bench.run_test(size=(80, 24)) as pilot:
        await pilot.pause()
        for key in keys:
            if isinstance(pilot.app.screen, Page):
                bench.action_show_page("menu")
            await pilot.press(key)
            await pilot.pause()
            if isinstance(pilot.app.screen, Dialog):
                await pilot.press("escape")
        assert not bench.notice or bench.notice.severity == "information"
        assert not bench.desk or not bench.desk.waiting


async def test_a_menu_of_one_entry_can_be_carried_nowhere(practice_card: Callable[[str], Path]) -> None:
    """Taken, moved, placed, sent: it stays, and no wish comes of it."""
    folder = practice_card("larkspur")
    for entry in sorted((folder / "data/shelf").iterdir())[1:]:
        shutil.rmtree(entry) if entry.is_dir() else entry.unlink()
    async with open_bench(folder, "larkspur").run_test(size=(80, 24)) as pilot:
        page = await labels_read(pilot)
        assert len(page.entries.rows) == 1
        await pilot.press("space", "down", "end", "up", "space", "e", "f", "s", "R", "m", "b", "a", "M")
        bench = bench_of(pilot)
        assert not bench.is_planning and bench.desk and not bench.desk.waiting

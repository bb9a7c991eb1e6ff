"""Shown names, pictures, hiding, copying, adding and removing: by keyboard, into the waiting plan."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from PIL import Image
from test_menu_page import write
from textual.pilot import Pilot

from workbench.assets import find_assets
from workbench.tui.app import Workbench
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.desk import Desk
from workbench.tui.dialog import Dialog, Question
from workbench.tui.fit_dialog import FitDialog
from workbench.tui.name_dialog import TextDialog
from workbench.tui.path_dialog import PathDialog
from workbench.tui.picture_pane import PicturePane

PracticeCard = Callable[[str], Path]
MOON = find_assets("fixtures") / "pictures" / "moon.png"
HARBOUR = find_assets("fixtures") / "pictures" / "harbour.png"


async def answer(pilot: Pilot[int], kind: type[Dialog[Any]], text: str) -> None:
    """Type an answer into a question of that kind, once it is asked."""
    await until(pilot, lambda: isinstance(pilot.app.screen, kind) and pilot.app.screen.query("#dialog-input"))
    pilot.app.screen.query_one("#dialog-input").value = text  # type: ignore[attr-defined]
    await pilot.press("enter")


async def wished(pilot: Pilot[int], wishes: int = 1) -> None:
    """Wait until so many wishes wait."""
    bench = bench_of(pilot)
    await until(pilot, lambda: bench.desk and len(bench.desk.waiting.wishes) == wishes)


def blocks(pilot: Pilot[int]) -> list[str]:
    """What the picture pane says."""
    shown = pilot.app.screen.query_one("#picture", PicturePane).blocks
    return [f"{block.caption.text} {block.sentence}" for block in shown]


async def test_a_shown_name_is_set_and_the_name_stays(
    practice_card: PracticeCard, read_device: Callable[[str, Path], dict[str, Any]]
) -> None:
    """The device's own reader shows the new text once it is written."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        name = page.entries.rows[3].name
        await pilot.press("down", "down", "down", "t")
        await answer(pilot, TextDialog, 'Dawn & "Dusk"')
        await until(pilot, lambda: page.entries.rows[3].label == 'Dawn & "Dusk"')
        assert page.entries.rows[3].name == name
        await write(pilot)
    shown = {
        entry["name"]: entry["label"] for entry in read_device("larkspur", folder)["menus"][0]["entries"]
    }
    assert shown[name] == 'Dawn & "Dusk"'


async def test_where_the_device_shows_the_name_that_is_said_and_a_rename_offered(
    practice_card: PracticeCard,
) -> None:
    """With what the prefix looks like there; `r` goes on to the other name."""
    given = open_bench(practice_card("larkspur"), "larkspur")
    assert given.desk and given.desk.profile
    menus = tuple(replace(menu, label=None) for menu in given.desk.profile.menus)
    desk = Desk(given.desk.card, replace(given.desk.profile, menus=menus))
    async with Workbench(desk).run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("down", "down", "down", "t")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        assert page.entries.rows[3].entry.prefix.strip() in pilot.app.screen._text  # type: ignore[attr-defined]
        await pilot.press("r")
        await answer(pilot, TextDialog, "01 Another Walk")
        await until(pilot, lambda: page.entries.rows[3].name == "01 Another Walk")


async def test_a_picture_is_put_and_shown_before_and_after(practice_card: PracticeCard) -> None:
    """The pane opens with both; in the plan it is one file changed."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await answer(pilot, PathDialog, str(MOON))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("enter")
        await wished(pilot)
        await until(pilot, lambda: pilot.app.screen.query("#picture") and len(blocks(pilot)) == 2)
        assert blocks(pilot)[0].startswith("on the card now  icon")
        assert blocks(pilot)[1].startswith("* after the plan  icon")
        desk = bench_of(pilot).desk
        assert desk and len(desk.outcome.changed) == 1


async def test_fit_and_background_of_an_icon_are_chosen(practice_card: PracticeCard) -> None:
    """A wide picture, whole, on red: above and below it the planned file is red (read by Pillow)."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await answer(pilot, PathDialog, str(HARBOUR))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("down", "up", "b")
        await answer(pilot, TextDialog, "no colour")
        assert isinstance(pilot.app.screen, TextDialog)
        await answer(pilot, TextDialog, "#ff0000")
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        assert "#ff0000" in pilot.app.screen.query_one("#dialog-text").lines[0].text  # type: ignore[attr-defined]
        await pilot.press("enter")
        await wished(pilot)
        desk = bench_of(pilot).desk
        assert desk
        step = desk.waiting.wishes[0].steps[0]
        with Image.open(io.BytesIO(step.content)) as icon:  # type: ignore[union-attr, arg-type]
            pixels = icon.convert("RGB")
        assert pixels.getpixel((32, 0)) == pixels.getpixel((32, 63)) == (255, 0, 0)
        assert pixels.getpixel((32, 32)) != (255, 0, 0)

        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await answer(pilot, PathDialog, str(HARBOUR))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("down", "enter")
        await until(pilot, lambda: len(desk.waiting.wishes) == 2)
        step = desk.waiting.wishes[1].steps[0]
        with Image.open(io.BytesIO(step.content)) as icon:  # type: ignore[union-attr, arg-type]
            assert icon.convert("RGB").getpixel((32, 0)) != (255, 0, 0)


async def test_a_missing_picture_is_offered_and_made(practice_card: PracticeCard) -> None:
    """Entry two has no art: the pane says so and which key puts one in; then it is new."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("down", "v")
        await until(pilot, lambda: pilot.app.screen.query("#picture") and blocks(pilot))
        await pilot.press("v")
        await until(pilot, lambda: "missing" in blocks(pilot)[0])
        assert "with i" in blocks(pilot)[0]
        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("down", "enter")
        await answer(pilot, PathDialog, str(MOON))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("enter")
        await wished(pilot)
        desk = bench_of(pilot).desk
        assert desk and [at.path.startswith("house/wide/") for at in desk.outcome.new] == [True]


async def test_no_picture_is_told_and_changes_nothing(practice_card: PracticeCard, tmp_path: Path) -> None:
    """A text file is refused with a sentence that covers neither list nor strip."""
    (tmp_path / "no.png").write_text("no picture")
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await answer(pilot, PathDialog, str(tmp_path / "no.png"))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("enter")
        await until(pilot, lambda: bench.notice and bench.notice.text.startswith("! "))
        entries, strip = bench.menu_page.query_one("#entries"), bench.menu_page.query_one("#plan-strip")
        await until(pilot, lambda: strip.size.height > 2)
        assert entries.region.intersection(strip.region).area == 0
        assert not bench.desk.waiting and not list(pilot.app._notifications)  # type: ignore[union-attr]
        await pilot.press("escape")
        assert bench.notice is None


async def test_marked_entries_are_hidden_together_and_one_is_shown_again(practice_card: PracticeCard) -> None:
    """One wish for both; the list of what is hidden brings one back."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        before = [row.name for row in page.entries.rows]
        await pilot.press("m", "m", "H")
        await wished(pilot)
        await until(pilot, lambda: [row.name for row in page.entries.rows] == before[2:])
        assert page.entries.marked == () and bench_of(pilot).desk.waiting.wishes[0].title == "Hide 2 entries"  # type: ignore[union-attr]
        await pilot.press("S")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await until(pilot, lambda: len(page.entries.rows) == len(before) - 1)


async def test_an_entry_is_copied_and_the_copy_is_listed(practice_card: PracticeCard) -> None:
    """What belongs to a person is asked about; the copy is marked as new."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("c")
        await answer(pilot, TextDialog, "!second light")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("n")
        await wished(pilot)
        await until(
            pilot, lambda: ("!second light", "new") in [(r.name, r.waiting) for r in page.entries.rows]
        )


async def test_a_new_entry_can_be_moved_before_it_is_written(practice_card: PracticeCard) -> None:
    """Added, sent last, written: it stands there, and the move is a wish of its own."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("A")
        await answer(pilot, TextDialog, "!brand new")
        await until(pilot, lambda: page.entries.rows[0].name == "!brand new")
        await pilot.press("home", "e")
        await wished(pilot, 2)
        await until(pilot, lambda: page.entries.rows[-1].name.endswith("!brand new"))
        await write(pilot)
        await until(pilot, lambda: not any(row.waiting for row in page.entries.rows))
        assert page.entries.rows[-1].name.endswith("!brand new")


async def test_an_entry_is_removed_and_every_byte_comes_back(
    practice_card: PracticeCard, tree_bytes: Callable[[Path], dict[str, Any]]
) -> None:
    """`d`, write; then the history takes it back."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page, bench = await labels_read(pilot), bench_of(pilot)
        count = len(page.entries.rows)
        await pilot.press("down", "d")
        await until(pilot, lambda: len(page.entries.rows) == count - 1)
        await write(pilot)
        assert tree_bytes(folder) != before
        await pilot.press("4")
        await until(pilot, lambda: bench.page._changes)  # type: ignore[union-attr]
        await pilot.press("u")
        await until(pilot, lambda: type(pilot.app.screen).__name__ == "WriteDialog")
        await pilot.press("enter")
        await until(pilot, lambda: tree_bytes(folder) == before and not bench.is_writing)


@pytest.mark.parametrize("key", ["r", "t", "c", "A", "p", "i", "slash"])
async def test_a_key_pressed_twice_asks_once(practice_card: PracticeCard, key: str) -> None:
    """The second press never stacks a second question."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press(key, key)
        await until(pilot, lambda: isinstance(pilot.app.screen, Dialog))
        await pilot.pause(0.1)
        assert len(pilot.app.screen_stack) == 2


async def test_large_pictures_of_a_dropped_wish_are_let_go(
    practice_card: PracticeCard, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What waits in the cache folder goes with the plan that it waits for."""
    import os

    from workbench.jobs import renders

    monkeypatch.setattr(renders, "INLINE_LIMIT", 16)
    folder = Path(os.environ["CARDWRIGHT_CACHE"]) / "renders"
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("i")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await answer(pilot, PathDialog, str(MOON))
        await until(pilot, lambda: isinstance(pilot.app.screen, FitDialog))
        await pilot.press("enter")
        await wished(pilot)
        await until(pilot, lambda: not pilot.app.workers)
        assert len(list(folder.iterdir())) == 1
        await pilot.press("backspace")
        await until(pilot, lambda: not list(folder.iterdir()))

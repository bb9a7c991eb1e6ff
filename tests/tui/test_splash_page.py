"""The splash page: put, blank, fit, restore; all of it waits before it is written."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

from bench_app import bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot

from workbench.assets import find_assets
from workbench.tui.picture_pane import PicturePane
from workbench.tui.write_dialog import WriteDialog

PICTURE = find_assets("fixtures") / "pictures" / "harbour.png"


async def open_page(pilot: Pilot[int]) -> None:
    """Open the page and wait for its previews."""
    await labels_read(pilot)
    await pilot.press("2")
    await until(pilot, lambda: texts(pilot, "#moments") and pane(pilot, "#before").cells)


def pane(pilot: Pilot[int], selector: str) -> PicturePane:
    return pilot.app.screen.query_one(selector, PicturePane)


async def put(pilot: Pilot[int], picture: Path) -> None:
    """Put a picture at the moment under the cursor."""
    await pilot.press("p")
    pilot.app.screen.query_one("#dialog-input").value = str(picture)  # type: ignore[attr-defined]
    await pilot.press("enter")


async def write(pilot: Pilot[int]) -> None:
    bench = bench_of(pilot)
    await pilot.press("w")
    await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
    await pilot.press("enter")
    await until(pilot, lambda: bench.desk and not bench.desk.waiting and not bench.is_writing)


async def test_a_picture_waits_beside_the_present_one(practice_card: Callable[[str], Path]) -> None:
    """Both are shown; the file on the card is untouched until it is written."""
    folder = practice_card("larkspur")
    file = folder / "system/greet/hello.bmp"
    before = file.read_bytes()
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await open_page(pilot)
        await put(pilot, PICTURE)
        await until(pilot, lambda: pane(pilot, "#after").cells)
        assert pane(pilot, "#after").cells != pane(pilot, "#before").cells
        assert "* waiting" in texts(pilot, "#moments")[0]
        assert file.read_bytes() == before
        await write(pilot)
        after = file.read_bytes()
    assert after != before and len(after) == len(before)


async def test_another_fit_takes_the_place_of_the_last_wish(practice_card: Callable[[str], Path]) -> None:
    """The same picture is planned anew; there is one wish, not two."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await open_page(pilot)
        desk = bench_of(pilot).desk
        assert desk
        await put(pilot, PICTURE)
        await until(pilot, lambda: desk.waiting)
        contained = desk.waiting.wishes[0].steps
        await pilot.press("f")
        await until(pilot, lambda: desk.waiting.wishes[0].steps != contained)
        assert len(desk.waiting.wishes) == 1


async def test_a_splash_that_was_replaced_is_kept_and_comes_back(
    practice_card: Callable[[str], Path], tree_bytes: Callable[[Path], dict[str, Any]]
) -> None:
    """Blank, write, restore, write: byte for byte as before."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await open_page(pilot)
        desk = bench_of(pilot).desk
        assert desk
        await pilot.press("b")
        await until(pilot, lambda: desk.waiting)
        await write(pilot)
        assert tree_bytes(folder) != before
        await until(pilot, lambda: "change 1" in " ".join(texts(pilot, "#kept")))
        await pilot.press("r")
        await until(pilot, lambda: desk.waiting)
        await write(pilot)
    assert tree_bytes(folder) == before


async def test_no_picture_is_refused_in_a_sentence(
    practice_card: Callable[[str], Path], tmp_path: Path
) -> None:
    """Nothing waits afterwards."""
    (tmp_path / "notes.png").write_text("no picture")
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await open_page(pilot)
        await put(pilot, tmp_path / "notes.png")
        await until(pilot, lambda: bench_of(pilot).notice)
        assert bench_of(pilot).notice.text.startswith("! ")
        assert not bench_of(pilot).desk.waiting  # type: ignore[union-attr]


async def test_every_moment_of_a_device_is_listed(practice_card: Callable[[str], Path]) -> None:
    """Orrery has three, and all of them at once as a fourth line."""
    async with open_bench(practice_card("orrery"), "orrery").run_test(size=(80, 24)) as pilot:
        await open_page(pilot)
        assert [line.split()[0] for line in texts(pilot, "#moments")] == [
            "start",
            "charging",
            "shutdown",
            "all",
        ]

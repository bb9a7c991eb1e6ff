"""The manifest job on the screen: tree and text, set, insert, delete, mend."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot
from textual.widgets import Input

from workbench.tui.document_tree import tree_rows
from workbench.tui.line_list import LineList
from workbench.tui.manifests_page import ManifestsPage

WORDS = "data:house/tongue/fr/words.json"


def page_of(pilot: Pilot[int]) -> ManifestsPage:
    page = bench_of(pilot).page
    assert isinstance(page, ManifestsPage)
    return page


async def open_manifest(pilot: Pilot[int], place: str) -> ManifestsPage:
    """Open the page, and on it a manifest."""
    await labels_read(pilot)
    await pilot.press("3")
    await until(pilot, lambda: page_of(pilot)._places)
    index = [str(at) for at in page_of(pilot)._places].index(place)
    page_of(pilot).query_one("#files", LineList).move_cursor(index)
    await pilot.press("enter")
    await until(pilot, lambda: page_of(pilot)._open and page_of(pilot).document.has_focus)
    return page_of(pilot)


async def answer(pilot: Pilot[int], text: str) -> None:
    """Type into the dialog that is open."""
    await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
    pilot.app.screen.query_one("#dialog-input", Input).value = text
    await pilot.press("enter")


async def test_a_manifest_is_seen_as_tree_and_as_text(practice_card: Callable[[str], Path]) -> None:
    """Both show the same document, and the cursor keeps its line."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        page = await open_manifest(pilot, WORDS)
        assert texts(pilot, "#document")[0].startswith("the whole")
        await pilot.press("down", "down")
        assert page._open and page.row
        line = page._open.row_lines[2]
        await pilot.press("v")
        assert page.document.cursor == line - 1
        file = Path(bench_of(pilot).desk.card.volume("data").root) / "house/tongue/fr/words.json"  # type: ignore[union-attr]
        assert len(texts(pilot, "#document")) == len(file.read_text("utf-8-sig").splitlines())


async def test_set_insert_and_delete_wait_in_one_plan(practice_card: Callable[[str], Path]) -> None:
    """Three wishes for one manifest; the tree shows it as it will be, the file is untouched."""
    folder = practice_card("larkspur")
    file = folder / "data/house/tongue/fr/words.json"
    before = file.read_bytes()
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await open_manifest(pilot, WORDS)
        desk = bench_of(pilot).desk
        assert desk and page._open
        spot = next(n for n, row in enumerate(page._open.rows) if not row.is_group)
        pointer = page._open.rows[spot].pointer
        page.document.move_cursor(spot)
        await pilot.press("e")
        await answer(pilot, '"un deux"')
        await until(pilot, lambda: "un deux" in " ".join(texts(pilot, "#document")))
        await pilot.press("i")
        await answer(pilot, "new name")
        await answer(pilot, "42")
        await until(pilot, lambda: "new name = 42" in " ".join(texts(pilot, "#document")))
        await pilot.press("d")
        await until(pilot, lambda: len(desk.waiting.wishes) == 3)
        await until(pilot, lambda: "un deux" not in " ".join(texts(pilot, "#document")))
        assert pointer and file.read_bytes() == before


async def test_a_broken_manifest_shows_its_line_and_is_mended_by_consent(
    practice_card: Callable[[str], Path],
) -> None:
    """The error's line is marked; `m` shows the mend in words, `m` again puts it into the plan."""
    folder = practice_card("larkspur")
    file = folder / "data/house/tongue/fr/words.json"
    file.write_text('{\n  "a": 1\n  "b": 2\n}\n')
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await open_manifest(pilot, WORDS)
        assert page._open and page._open.error and page._open.mend
        assert any(line.startswith("! ") for line in texts(pilot, "#document"))
        assert page.document.cursor == (page._open.error.line or 0) - 1
        await pilot.press("m", "m")
        await until(pilot, lambda: page._open and page._open.error is None)
        desk = bench_of(pilot).desk
        assert desk
        mended = desk.tree().read(page._open.manifest.at)
    assert json.loads(mended) == {"a": 1, "b": 2}


async def test_a_malformed_manifest_in_the_way_of_a_rename_is_named_and_shown(
    practice_card: Callable[[str], Path],
) -> None:
    """The wish is refused with the file and line; enter opens it there."""
    folder = practice_card("larkspur")
    register = folder / "data/house/register.json"
    register.write_bytes(register.read_bytes().replace(b":", b"", 1))
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("r")
        await answer(pilot, "another")
        await until(pilot, lambda: "ConflictDialog" in type(pilot.app.screen).__name__)
        assert "register.json" in " ".join(texts(pilot, "#dialog-list"))
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(bench_of(pilot).page, ManifestsPage) and page_of(pilot)._open)
        assert page_of(pilot)._open.manifest.at.name == "register.json"  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("data", "pointers"),
    [
        (
            {"foo": ["bar", "baz"], "": 0, "a/b": 1, "m~n": 8},
            ["", "/foo", "/foo/0", "/foo/1", "/", "/a~1b", "/m~0n"],
        ),
        ("text", [""]),
        ([], [""]),
    ],
)
def test_every_place_has_its_pointer(data: object, pointers: list[str]) -> None:
    """Pointers as in RFC 6901, section 5."""
    assert [row.pointer for row in tree_rows(data)] == pointers


async def test_a_card_that_is_gone_is_not_looked_through_for_ever(
    practice_card: Callable[[str], Path],
) -> None:
    """The list says that it could not be read, and stops looking."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        shutil.rmtree(folder)
        await pilot.press("3")
        files = page_of(pilot).query_one("#files", LineList)
        await until(pilot, lambda: "could not be read" in files._empty)

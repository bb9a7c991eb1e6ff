"""The check page by keyboard: findings with their place, one mended, a kind, all of them, and dropped."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import NARROW, WIDE, bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot

from workbench.tui.app import Workbench
from workbench.tui.card_pane import CardPane
from workbench.tui.check_page import CheckPage
from workbench.tui.line_list import LineList
from workbench.tui.manifests_page import ManifestsPage


@pytest.fixture
def broken(practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch) -> Path:
    """Larkspur with two dead lines in a list, litter of a computer, and a gap between frames."""
    monkeypatch.setattr("workbench.tui.app.LOOK_EVERY_S", 3600)
    folder = practice_card("larkspur")
    with (folder / "data/house/lately.txt").open("a", encoding="utf-8") as file:
        file.write("\nGone Away\nAlso Gone\n")
    (folder / "data/.DS_Store").write_bytes(b"\0")
    next((folder / "data/house/motion").glob("*/2.png")).unlink()
    return folder


def page_of(pilot: Pilot[int]) -> CheckPage:
    page = bench_of(pilot).page
    assert isinstance(page, CheckPage)
    return page


async def open_check(pilot: Pilot[int]) -> CheckPage:
    await labels_read(pilot)
    await pilot.press("8")
    await until(pilot, lambda: page_of(pilot)._rows and not pilot.app.workers)
    return page_of(pilot)


def go_to(pilot: Pilot[int], words: str) -> None:
    """Put the cursor on the first line that holds these words."""
    index = next(n for n, text in enumerate(texts(pilot, "#findings")) if words in text)
    page_of(pilot).query_one("#findings", LineList).move_cursor(index)


def rules(page: CheckPage) -> set[str]:
    return {one.rule for one in page._found}


@pytest.mark.parametrize("size", [NARROW, WIDE])
async def test_a_finding_is_shown_with_the_lines_around_it(broken: Path, size: tuple[int, int]) -> None:
    """The dead line is marked, with its neighbours above; everything fits on the page."""
    async with open_bench(broken, "larkspur").run_test(size=size) as pilot:
        await open_check(pilot)
        go_to(pilot, "'Gone Away'")
        await until(pilot, lambda: any(line.startswith("› ") for line in texts(pilot, "#finding")))
        marked = next(line for line in texts(pilot, "#finding") if line.startswith("› "))
        assert marked.endswith("Gone Away")
        assert any("Mend: take the line out" in line for line in texts(pilot, "#finding"))


async def test_one_finding_is_mended_into_the_plan_and_back(broken: Path) -> None:
    """It is gone from the list while the plan waits, and there again when the plan is dropped."""
    async with open_bench(broken, "larkspur").run_test(size=NARROW) as pilot:
        page = await open_check(pilot)
        go_to(pilot, "'Gone Away'")
        await pilot.press("m")
        await until(pilot, lambda: not any("'Gone Away'" in line for line in texts(pilot, "#findings")))
        assert any("'Also Gone'" in line for line in texts(pilot, "#findings"))
        assert b"Gone Away" in (broken / "data/house/lately.txt").read_bytes()
        await pilot.press("backspace")
        await until(pilot, lambda: any("'Gone Away'" in one.message for one in page._found))


async def test_a_kind_is_mended_as_one_wish(broken: Path) -> None:
    """All dead lines of the list, by the key for a kind, and nothing else."""
    async with open_bench(broken, "larkspur").run_test(size=WIDE) as pilot:
        page = await open_check(pilot)
        go_to(pilot, "'Also Gone'")
        await pilot.press("M")
        await until(pilot, lambda: "dangling-reference" not in rules(page))
        assert {"host-litter", "frame-gap"} <= rules(page)
        assert len(bench_of(pilot).desk.waiting.wishes) == 1  # type: ignore[union-attr]


async def test_everything_is_mended_as_one_wish(broken: Path) -> None:
    """What is left can only be mended by a person."""
    async with open_bench(broken, "larkspur").run_test(size=WIDE) as pilot:
        page = await open_check(pilot)
        await pilot.press("a")
        await until(pilot, lambda: not any(one.remedy for one in page._found))
        desk = bench_of(pilot).desk
        assert desk is not None
        assert desk.waiting.plan.title.startswith("Mend ")
        assert (broken / "data/.DS_Store").exists()
        assert not page.can_do("check.mend-all")


async def test_the_place_of_a_finding_opens(broken: Path) -> None:
    """Enter goes to the line, on the page of the manifests."""
    async with open_bench(broken, "larkspur").run_test(size=WIDE) as pilot:
        await open_check(pilot)
        go_to(pilot, "'Also Gone'")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(bench_of(pilot).page, ManifestsPage))
        await until(pilot, lambda: bench_of(pilot).page._open is not None)  # type: ignore[union-attr]
        manifests = bench_of(pilot).page
        assert isinstance(manifests, ManifestsPage)
        await until(pilot, lambda: "Also Gone" in manifests.document.line_at(manifests.document.cursor).text)


async def test_notes_are_hidden_and_counted(broken: Path) -> None:
    """What is only worth knowing goes out of sight by a key, and comes back."""
    async with open_bench(broken, "larkspur").run_test(size=NARROW) as pilot:
        await open_check(pilot)
        assert any("host-litter" in line for line in texts(pilot, "#findings"))
        await pilot.press("n")
        assert not any("host-litter" in line for line in texts(pilot, "#findings"))
        await pilot.press("n")
        assert any("host-litter" in line for line in texts(pilot, "#findings"))


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_screen(broken: Path, size: tuple[int, int], snap_compare: Callable[..., bool]) -> None:
    """The page with the cursor on a dead line."""

    async def before(pilot: Pilot[int]) -> None:
        await open_check(pilot)
        go_to(pilot, "'Gone Away'")
        await until(pilot, lambda: any(line.startswith("› ") for line in texts(pilot, "#finding")))

    app: Workbench = open_bench(broken, "larkspur")
    assert app.desk is not None
    assert snap_compare(app, run_before=before, terminal_size=size)


async def test_the_cards_page_says_how_the_open_card_is(broken: Path) -> None:
    """No card in a reader: the folder that is open, its health, and what takes its room."""
    (broken / "data/FOUND.000").mkdir()
    async with open_bench(broken, "larkspur").run_test(size=WIDE) as pilot:
        await labels_read(pilot)
        await pilot.press("6")
        await until(pilot, lambda: any("in the menu shelf" in line for line in texts(pilot, "#card")))
        lines = texts(pilot, "#card")
        assert any(line.startswith("! data: a disk check has found") for line in lines)
        assert any("system: nothing wrong is seen" in line for line in lines)


@pytest.mark.parametrize("size", [NARROW, WIDE])
async def test_the_menu_page_says_that_a_disk_check_found_pieces(broken: Path, size: tuple[int, int]) -> None:
    """At a glance, beside the card; a healthy card has no such line."""
    (broken / "data/FOUND.000").mkdir()
    async with open_bench(broken, "larkspur").run_test(size=size) as pilot:
        await labels_read(pilot)
        pane = bench_of(pilot).menu_page.query_one(CardPane)
        await until(pilot, lambda: pane.alarms)
        assert pane.alarms[0].startswith("data: a disk check has found lost pieces")

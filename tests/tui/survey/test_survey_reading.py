"""Reading a card from the survey's page: how far it is, stopping, leaving; and cards unlike any other."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path
from typing import Any

import hostile
import practice_cards
import pytest
from bench_app import bench_of, labels_read, texts, until
from survey_bench import answer_all, look_at, open_unknown_bench, page_of, surveyed
from survey_cards import write_files
from textual.pilot import Pilot

from workbench.card.computer import Computer
from workbench.card.discovery import open_card
from workbench.card.making import make_unknown_card
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Volume
from workbench.tui import survey_work
from workbench.tui.app import Workbench
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.desk import Desk
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.path_dialog import PathDialog
from workbench.tui.survey_dialogs import ValueDialog
from workbench.tui.survey_draft import Proposed
from workbench.tui.survey_page import SurveyPage


class Gate:
    """A reading that waits in its middle until it is let on; as a reader of a slow card, it tells often."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.is_open = threading.Event()
        self.was_stopped = threading.Event()
        self._read = survey_work.survey_card
        monkeypatch.setattr(survey_work, "survey_card", self._wait)

    def _wait(self, card: Any, tell: Callable[[str, int, int], None]) -> Proposed:
        done = 0
        try:
            while not self.is_open.wait(0.02):
                tell("folders read", done, 4711)
                done += 1
        except Exception:
            self.was_stopped.set()
            raise
        return self._read(card, tell)


@pytest.fixture
def gate(monkeypatch: pytest.MonkeyPatch) -> Gate:
    return Gate(monkeypatch)


def strip(pilot: Pilot[int]) -> str:
    lines = pilot.app.screen.query_one("#plan-strip").lines  # type: ignore[attr-defined]
    return " ".join(line.text for line in lines)


async def reading(pilot: Pilot[int]) -> SurveyPage:
    await until(pilot, lambda: isinstance(bench_of(pilot).page, SurveyPage))
    await until(pilot, lambda: "of 4,711 folders read" in strip(pilot))
    return page_of(pilot)


async def test_reading_says_how_far_it_is_and_can_be_stopped_and_begun_anew(
    practice_card: Callable[[str], Path], gate: Gate
) -> None:
    """Escape ends the thread; what it still says is dropped; r reads from the start."""
    folder = practice_card("larkspur")
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        page = await reading(pilot)
        await pilot.press("escape")
        assert page.state == "stopped" and bench_of(pilot).page is page
        await until(pilot, gate.was_stopped.is_set)
        assert "r reads it" in strip(pilot)
        await pilot.press("r")
        await reading(pilot)
        gate.is_open.set()
        await surveyed(pilot)
        await answer_all(pilot, look_at("larkspur", folder))


async def test_the_workbench_can_be_left_while_it_reads(
    practice_card: Callable[[str], Path], gate: Gate
) -> None:
    """At once: the thread ends with it."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        await reading(pilot)
        await pilot.press("q")
        await until(pilot, lambda: not pilot.app.is_running)
    assert gate.was_stopped.wait(5)
    assert pilot.app.return_value == 0


async def test_other_pages_can_be_used_while_it_reads(
    practice_card: Callable[[str], Path], gate: Gate
) -> None:
    """Nothing is asked there; the survey and its questions are there when one comes back."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await reading(pilot)
        await pilot.press("4")
        await until(pilot, lambda: bench_of(pilot).page is not page)
        gate.is_open.set()
        await until(pilot, lambda: page.state == "ready")
        assert not isinstance(pilot.app.screen, Dialog)
        await pilot.press("7")
        await surveyed(pilot)


async def test_another_card_can_be_opened_while_it_reads(
    practice_card: Callable[[str], Path], gate: Gate
) -> None:
    """What is still read of the first has no say any more: the second stays open, with its own profile."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page, bench = await reading(pilot), bench_of(pilot)
        profile = read_profile(practice_cards.profile_path("orrery"))
        bench.open_card(open_card(str(practice_card("orrery")), [profile], profile))
        await labels_read(pilot)
        gate.is_open.set()
        await until(pilot, lambda: page.state == "idle")
        assert bench.desk and bench.desk.profile and bench.desk.profile.name == "Orrery"
        await pilot.press("7")
        await until(pilot, lambda: page.tried is not None)
        assert page.draft and page.draft.name == "Orrery"


async def test_a_folder_opened_from_the_cards_page_is_surveyed(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no profile fits it; with no card at all at the start."""
    monkeypatch.setattr("workbench.tui.cards_page._find_cards", lambda _profiles: ())
    folder = practice_card("orrery")
    async with Workbench(None, ()).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: pilot.app.screen.query("#cards") and texts(pilot, "#card"))
        await pilot.press("o")
        await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
        pilot.app.screen.query_one("#dialog-input").value = str(folder)  # type: ignore[attr-defined]
        await pilot.press("enter")
        page = await surveyed(pilot)
        assert page.draft and page.draft.name == "orrery"


async def test_an_unknown_card_in_a_reader_is_surveyed_by_enter(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Enter on its line."""
    card = open_card(str(practice_card("fernway")), ())
    monkeypatch.setattr("workbench.tui.cards_page._find_cards", lambda _profiles: (card,))
    async with Workbench(None, ()).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: pilot.app.screen.query("#cards") and texts(pilot, "#cards"))
        await until(pilot, lambda: texts(pilot, "#card"))
        assert "Enter surveys it" in " ".join(texts(pilot, "#card"))
        await pilot.press("enter")
        await surveyed(pilot)


# Cards unlike any other


@pytest.mark.parametrize("hurt", [hostile.odd_names, hostile.circles])
async def test_a_hostile_card_is_shown_harmless(tmp_path: Path, hurt: Callable[[Path], None]) -> None:
    """Findings, evidence, menu and text: nothing that a terminal would obey reaches a line."""
    folder = hostile.lay_out_honest(tmp_path / "card")
    hurt(folder)
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        while pilot.app.screen is not page:
            await pilot.press("escape")
        assert any(line.startswith("menu trove") for line in texts(pilot, "#findings"))
        for view in ("evidence", "menu", "text"):
            page.show_view(view)  # type: ignore[arg-type]
            await until(pilot, lambda: not page.workers)
            for selector in ("#findings", "#evidence"):
                drawn = page.query_one(selector, LineList)
                said = [drawn.render_line(y).text for y in range(drawn.size.height)]
                assert any(said) and all(line.isprintable() for line in said)
        await pilot.press("end")
        await until(pilot, lambda: not page.workers)


async def test_a_card_with_nothing_on_it_is_said_to_have_no_menu(tmp_path: Path) -> None:
    """Saving is refused in a sentence, and nothing is saved."""
    (tmp_path / "card").mkdir()
    async with open_unknown_bench(tmp_path / "card").run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        assert not page.has_menu
        assert "No menu was found" in strip(pilot)
        await pilot.press("s")
        await until(pilot, lambda: bench_of(pilot).notice)
        assert "no menu" in bench_of(pilot).notice.text  # type: ignore[union-attr]
        assert bench_of(pilot).page is page


@pytest.mark.parametrize(
    ("folder", "root"), [("Music/", "card:Music"), ("", "card:")], ids=["a folder", "the volume itself"]
)
async def test_a_menu_that_nothing_speaks_of_is_named_by_hand(tmp_path: Path, folder: str, root: str) -> None:
    """Chosen from the folders that there are; the preview and the opened menu list its files."""
    files = {f"{folder}{name}.tune": b"\0" for name in ("one", "two", "three")}
    write_files(tmp_path / "card", {**files, "Other/x.bin": b"\0"})
    async with open_unknown_bench(tmp_path / "card").run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await pilot.press("n")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await until(pilot, lambda: texts(pilot, "#dialog-list"))
        at = texts(pilot, "#dialog-list").index(root)
        await pilot.press(*["down"] * at, "enter")
        await until(pilot, lambda: page.has_menu and texts(pilot, "#evidence"))
        await until(pilot, lambda: "3 entries" in texts(pilot, "#evidence")[0])
        await pilot.press("s")
        menu = await labels_read(pilot)
        assert [row.name for row in menu.entries.rows] == ["one.tune", "three.tune", "two.tune"]


async def test_a_folder_that_is_not_there_is_no_menu(tmp_path: Path) -> None:
    """The dialog stays and says so."""
    write_files(tmp_path / "card", {"Music/one.tune": b"\0", "Other/x.bin": b"\0"})
    async with open_unknown_bench(tmp_path / "card").run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await pilot.press("n")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await until(pilot, lambda: texts(pilot, "#dialog-list"))
        await pilot.press("end", "enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, ValueDialog))
        for typed, is_taken in (("card:Tunes", False), ("Music", False), ("card:Music", True)):
            pilot.app.screen.query_one("#dialog-input").value = typed  # type: ignore[attr-defined]
            await pilot.press("enter")
            await pilot.pause()
            assert isinstance(pilot.app.screen, ValueDialog) != is_taken
        await until(pilot, lambda: page.has_menu)


async def test_a_card_with_a_volume_absent_is_surveyed_as_far_as_it_is_there(
    practice_card: Callable[[str], Path],
) -> None:
    """A partition that is not mounted: nothing is said of it, nothing fails, and the menu is whole."""
    data = practice_card("larkspur") / "data"
    absent = [Volume("system", Path("/nowhere"), label="BEGIN", present=False)]
    card = make_unknown_card([data], Computer(), "removable", name="Larkspur", absent=absent)
    async with Workbench(Desk(card)).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await answer_all(pilot, look_at("larkspur", data.parent))
        assert page.draft and "volumes.data" in page.draft.text()
        await pilot.press("s")
        menu = await labels_read(pilot)
        assert len(menu.entries.rows) == 35


async def test_an_existing_profile_says_what_it_cannot_see(practice_card: Callable[[str], Path]) -> None:
    """With one volume at home: its rules are marked, and the reason is its absence."""
    profile = read_profile(practice_cards.profile_path("larkspur"))
    data = practice_card("larkspur") / "data"
    async with Workbench(Desk(open_card(str(data), [profile], profile)), [profile]).run_test() as pilot:
        await labels_read(pilot)
        await pilot.press("7")
        await until(pilot, lambda: isinstance(bench_of(pilot).page, SurveyPage))
        page = page_of(pilot)
        await until(pilot, lambda: page.tried is not None)
        assert page.tried
        assert {one.because for one in page.tried.trial.silent} == {"the volume system is not there"}

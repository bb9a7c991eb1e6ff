"""History, mentions, cards, help, palette, leaving and coming back."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import bench_of, labels_read, open_bench, texts, until
from test_menu_page import rename, write
from textual.widgets import Input

from workbench.tui.actions import PAGES, action_of
from workbench.tui.app import Workbench
from workbench.tui.dialog import Dialog
from workbench.tui.leave_dialog import LeaveDialog
from workbench.tui.writing import ProgressDialog


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_every_page_opens_and_escape_leads_back(
    practice_card: Callable[[str], Path], size: tuple[int, int]
) -> None:
    """Each by its key; escape goes to the menu."""
    async with open_bench(practice_card("orrery"), "orrery").run_test(size=size) as pilot:
        await labels_read(pilot)
        for page in PAGES:
            await pilot.press(action_of(f"page.{page}").key_list[0])
            assert bench_of(pilot).page.where == page  # type: ignore[union-attr]
            await pilot.press("escape")
            assert bench_of(pilot).page.where == "menu"  # type: ignore[union-attr]


@pytest.mark.parametrize("keys", [["question_mark"], ["r"], ["slash"], ["ctrl+p"], ["D"], ["w"], ["q"]])
async def test_a_key_pressed_twice_does_not_stack_two_questions(
    practice_card: Callable[[str], Path], keys: list[str]
) -> None:
    """The second press goes to the first question, or nowhere."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "another name")
        await pilot.press(*keys, *keys)
        await until(pilot, lambda: len(pilot.app.screen_stack) > 1 or not pilot.app.is_running)
        await pilot.pause(0.3)
        assert len(pilot.app.screen_stack) <= 2
        assert sum(isinstance(screen, Dialog) for screen in pilot.app.screen_stack) <= 1


async def test_an_answer_given_twice_counts_once(practice_card: Callable[[str], Path]) -> None:
    """Enter held down, or a pasted line end before it: the second answer finds the dialog closed."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        await pilot.press("r")
        await until(pilot, lambda: isinstance(pilot.app.screen, Dialog))
        field = pilot.app.screen.query_one(Input)
        field.value = "another name"
        for _ in range(2):
            field.post_message(Input.Submitted(field, field.value))
        await until(pilot, lambda: bench_of(pilot).desk.waiting.wishes)  # type: ignore[union-attr]
        assert len(pilot.app.screen_stack) == 1


async def test_quitting_with_a_plan_asks_and_the_plan_comes_back(
    practice_card: Callable[[str], Path],
) -> None:
    """It is checked against the card again before it is shown."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "kept for later")
        await until(pilot, lambda: not [one for one in pilot.app.workers if one.group == "keep"])
        await pilot.press("q")
        assert isinstance(pilot.app.screen, LeaveDialog)
        await pilot.press("q")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await until(pilot, lambda: "kept for later" in [row.name for row in page.entries.rows])


async def test_a_plan_that_no_longer_fits_is_not_trusted(practice_card: Callable[[str], Path]) -> None:
    """Someone changed the card in between: said so, and offered to be dropped."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        name = page.entries.rows[0].name
        await rename(pilot, "kept for later")
        await until(pilot, lambda: not [one for one in pilot.app.workers if one.group == "keep"])
    (folder / "data/shelf" / name).rename(folder / "data/shelf/elsewhere")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await until(pilot, lambda: isinstance(pilot.app.screen, Dialog))
        await pilot.press("d")
        assert not bench_of(pilot).desk.waiting  # type: ignore[union-attr]


async def test_mentions_name_file_and_line_and_lead_there(practice_card: Callable[[str], Path]) -> None:
    """A note that nobody rules names an entry: listed, and shown in its place."""
    folder = practice_card("larkspur")
    (folder / "data/my notes.txt").write_text("one\nBoatswain is the best\n")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await pilot.press("slash", *"boatswain", "enter", "5")
        await until(pilot, lambda: any("my notes.txt, line 2" in line for line in texts(pilot, "#mentions")))


async def test_mentions_are_looked_for_by_the_present_name(practice_card: Callable[[str], Path]) -> None:
    """While a rename waits, a note that nobody rules says the old name, and goes on saying it."""
    folder = practice_card("larkspur")
    (folder / "data/my notes.txt").write_text("one\nBoatswain is the best\n")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        page = await labels_read(pilot)
        await pilot.press("slash", *"boatswain", "enter")
        await rename(pilot, "Skipper")
        await until(pilot, lambda: page.entries.row is not None and page.entries.row.name == "Skipper")
        await pilot.press("5")
        await until(pilot, lambda: any("my notes.txt, line 2" in line for line in texts(pilot, "#mentions")))


async def test_what_has_begun_is_not_said_to_be_stopped(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once a change has begun its dialog offers no stop, and escape asks for none."""
    seen: list[tuple[str, bool]] = []
    begin = ProgressDialog.begin

    def watched(dialog: ProgressDialog) -> None:
        before = dialog.hint
        begin(dialog)
        dialog.action_dialog_back()
        seen.append((before, "esc: stop" in dialog.hint or dialog.is_cancelled))

    monkeypatch.setattr(ProgressDialog, "begin", watched)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "another name")
        await write(pilot)
    assert [("esc: stop" in before, after) for before, after in seen] == [(True, False)]


async def test_without_a_card_the_cards_are_shown(monkeypatch: pytest.MonkeyPatch) -> None:
    """And what to do where there is none."""
    monkeypatch.setattr("workbench.card.discovery.find_cards", lambda _profiles: ())
    async with Workbench().run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: bench_of(pilot).page.where == "cards")  # type: ignore[union-attr]
        await until(pilot, lambda: "press o" in " ".join(texts(pilot, "#card")))


async def test_a_card_that_comes_is_noticed(
    monkeypatch: pytest.MonkeyPatch, practice_card: Callable[[str], Path]
) -> None:
    """The watch says that something changed; the list is read again without a key."""
    card = open_bench(practice_card("larkspur"), "larkspur").desk.card  # type: ignore[union-attr]
    cards: list[object] = []
    changes = iter([False, True])
    monkeypatch.setattr("workbench.card.discovery.find_cards", lambda _profiles: tuple(cards))
    monkeypatch.setattr("workbench.card.watch.CardWatch.changed", lambda _watch: next(changes, False))
    async with Workbench().run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: bench_of(pilot).page.where == "cards")  # type: ignore[union-attr]
        cards.append(card)
        await until(pilot, lambda: any(card.name in line for line in texts(pilot, "#cards")))


async def test_a_card_without_profile_says_what_to_do(tmp_path: Path) -> None:
    """Its survey opens by itself; in the place of the menu stands which key leads back to it."""
    from workbench.card.volumes import Card, Volume
    from workbench.tui.desk import Desk

    card = Card("strange", {"a": Volume("a", tmp_path)}, None, "folder")
    async with Workbench(Desk(card)).run_test(size=(80, 24)) as pilot:
        await until(pilot, lambda: pilot.app.screen.query("#findings") and texts(pilot, "#findings"))
        await pilot.press("1")
        await until(pilot, lambda: pilot.app.screen.query("#detail"))
        await until(pilot, lambda: "7 surveys it" in " ".join(texts(pilot, "#detail")))


@pytest.mark.parametrize("hostile", ["Game [USA]", "[/]", "[bold]x", "e\x1b[31m", "r\u202eevil", "c\x9b2J"])
async def test_hostile_names_are_shown_and_never_obeyed(
    practice_card: Callable[[str], Path], hostile: str
) -> None:
    """On every page; no control character reaches a rendered line."""
    folder = practice_card("larkspur")
    (folder / "data/shelf" / hostile.replace("/", "-")).mkdir()
    async with open_bench(folder, "larkspur").run_test(size=(120, 60)) as pilot:
        page = await labels_read(pilot)
        spot = [row.name for row in page.entries.rows].index(hostile.replace("/", "-"))
        page.entries.move_cursor(spot)
        await pilot.press("r")
        await pilot.pause()
        seen = "".join(strip.text for strip in pilot.app.screen._compositor.render_strips())
        assert not set(seen) & set("\x1b\u202e\x9b")
        if hostile == "Game [USA]":
            assert hostile in seen

"""The survey's page by keyboard: findings and their evidence, questions, edits, saving."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, texts, until
from survey_bench import answer_all, look_at, open_unknown_bench, page_of, surveyed
from test_menu_page import write
from textual.pilot import Pilot

from workbench.card.discovery import open_card
from workbench.card.profiles import find_profiles
from workbench.tui.app import Workbench
from workbench.tui.choice_dialog import ChoiceDialog
from workbench.tui.dialog import Dialog, Question
from workbench.tui.path_dialog import PathDialog
from workbench.tui.survey_dialogs import DeviceQuestion, ValueDialog
from workbench.tui.survey_draft import Existing, Proposed
from workbench.tui.survey_page import SurveyPage

PracticeCard = Callable[[str], Path]
Device = Callable[[str, Path], dict[str, Any]]


async def go_to(pilot: Pilot[int], begins: str) -> None:
    """Put the cursor on the finding whose line begins so, and wait for what speaks for it."""
    page = page_of(pilot)
    lines = [line.strip() for line in texts(pilot, "#findings")]
    at = next(n for n, line in enumerate(lines) if line.startswith(begins))
    await pilot.press(*["down"] * (at - page.findings.cursor), *["up"] * (page.findings.cursor - at))
    await until(pilot, lambda: begins.split()[0] in (texts(pilot, "#evidence") or [""])[0])


async def leave_question(pilot: Pilot[int]) -> None:
    """Look at the findings first."""
    while isinstance(pilot.app.screen, Dialog):
        await pilot.press("escape")
        await pilot.pause()


async def type_value(pilot: Pilot[int], text: str) -> None:
    await until(pilot, lambda: isinstance(pilot.app.screen, ValueDialog))
    pilot.app.screen.query_one("#dialog-input").value = text  # type: ignore[attr-defined]
    await pilot.press("enter")


async def test_a_finding_shows_file_line_and_the_lines_own_text(practice_card: PracticeCard) -> None:
    """What stands at the right is what the file says on that line; enter opens the file there."""
    folder = practice_card("larkspur")
    async with open_unknown_bench(folder).run_test(size=(120, 40)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        await go_to(pilot, "in /pinned/{row} of register.json")
        said = texts(pilot, "#evidence")
        where = next(line for line in said if line.startswith("data:house/register.json, line "))
        number = int(where.rpartition(" ")[2])
        line = (folder / "data/house/register.json").read_text(encoding="utf-8").splitlines()[number - 1]
        assert said[said.index(where) + 1].strip() == line.strip()[: len(line)]
        await pilot.press("tab", *["down"] * said.index(where), "enter")
        await until(pilot, lambda: bench_of(pilot).page is not page)
        assert bench_of(pilot).page.where == "manifests"  # type: ignore[union-attr]


async def test_take_drop_and_back(practice_card: PracticeCard) -> None:
    """Each with one key, each taken back by the same."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        await go_to(pilot, "icon")
        for key, word in (("t", "taken"), ("t", ""), ("d", "dropped"), ("d", "")):
            await pilot.press(key)
            assert page.finding and page.draft
            assert page.finding.standing == (word or "proposed")
            assert texts(pilot, "#findings")[page.findings.cursor].endswith(word or "_s.png")
            assert ('kind = "icon"' in page.draft.text()) == (word != "dropped")


async def test_what_the_profile_needs_cannot_be_dropped(practice_card: PracticeCard) -> None:
    """It is said why, and stays."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        await go_to(pilot, "panel")
        await pilot.press("d")
        assert page.finding and page.finding.standing == "proposed"
        assert "no valid profile" in bench_of(pilot).notice.text  # type: ignore[union-attr]


async def test_a_value_is_checked_before_it_is_taken(practice_card: PracticeCard) -> None:
    """No number, then a number that no panel has: the dialog stays and says why; then a good one."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        await go_to(pilot, "panel")
        await pilot.press("c")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        for wrong in ("wide", "-3", '"640"', "640\tx", ""):
            await type_value(pilot, wrong)
            hint = pilot.app.screen.query_one("#dialog-hint")
            assert hint.lines[0].text.startswith("! ")  # type: ignore[attr-defined]
        await type_value(pilot, "640")
        await until(pilot, lambda: page.finding and page.finding.standing == "corrected")
        assert page.draft and "width = 640 # put there by hand" in page.draft.text()


async def test_another_order_is_one_of_the_choices(practice_card: PracticeCard) -> None:
    """What else a line could say is offered, and taken as it is."""
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        await go_to(pilot, "order")
        await pilot.press("enter")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        choices = texts(pilot, "#dialog-list")
        await pilot.press(*["down"] * choices.index('rather order = "natural"'), "enter")
        await until(pilot, lambda: page.finding and page.finding.standing == "corrected")
        assert page.draft and 'order = "natural"' in page.draft.text()


async def test_a_wrong_answer_is_taken_back(practice_card: PracticeCard, read_device: Device) -> None:
    """In the next question, or later on the page; then the menu is the device's own."""
    folder = practice_card("larkspur")
    look = look_at("larkspur", folder)
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        first = pilot.app.screen._question  # type: ignore[attr-defined]
        wrong = next(n for n, one in enumerate(first.choices, 1) if one.value != look(first))
        await pilot.press(str(wrong))
        await until(pilot, lambda: isinstance(page.draft, Proposed) and page.draft.survey.answers)
        if isinstance(pilot.app.screen, DeviceQuestion):
            await pilot.press("b")
        else:
            await pilot.press("b")
        await until(pilot, lambda: isinstance(page.draft, Proposed) and not page.draft.survey.answers)
        await until(pilot, lambda: isinstance(pilot.app.screen, DeviceQuestion))
        assert pilot.app.screen._question == first  # type: ignore[attr-defined]
        await answer_all(pilot, look)
        await pilot.press("b")
        await until(pilot, lambda: isinstance(pilot.app.screen, DeviceQuestion))
        await answer_all(pilot, look)
        await until(pilot, lambda: texts(pilot, "#evidence")[0].startswith("shelf  35 entries"))
        shown = [line.split("  ", 2)[-1] for line in texts(pilot, "#evidence")[1:]]
    device = read_device("larkspur", folder)["menus"][0]["entries"]
    assert len(shown) == len(device)
    assert all(line.strip().startswith(one["label"]) for line, one in zip(shown, device, strict=True))


async def test_who_cannot_tell_gets_the_usual_answer(practice_card: PracticeCard) -> None:
    """Every question left open: the profile is valid, and says what was not asked."""
    async with open_unknown_bench(practice_card("fernway")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        while isinstance(pilot.app.screen, DeviceQuestion):
            await pilot.press("end", "enter")
            await pilot.pause()
        await until(pilot, lambda: page.view == "menu")
        assert page.draft and len(page.draft.questions) == 2
        assert "? Not asked yet" in page.draft.text()
        await pilot.press("a")
        await until(pilot, lambda: isinstance(pilot.app.screen, DeviceQuestion))


async def test_a_saved_profile_is_known_the_next_time(practice_card: PracticeCard) -> None:
    """It lies among the user's own, and the card matches it."""
    folder = practice_card("orrery")
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, look_at("orrery", folder))
        await pilot.press("s")
        await labels_read(pilot)
        assert bench_of(pilot).profiles[0].origin == "user"
    again = open_card(str(folder), find_profiles())
    assert again.profile is not None and again.profile.origin == "user" and again.profile.name == "orrery"


async def test_onto_the_card_goes_through_the_plan(
    practice_card: PracticeCard, tree_bytes: Callable[[Path], dict[str, Any]]
) -> None:
    """Nothing is on the card before it is written; the menu has it at once; trusted the next time."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, look_at("larkspur", folder))
        await pilot.press("S")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        assert "data:cardwright-profile.toml" in texts(pilot, "#dialog-list")[1]
        await pilot.press("down", "enter")
        page = await labels_read(pilot)
        await until(pilot, lambda: bench_of(pilot).desk.waiting)  # type: ignore[union-attr]
        assert len(page.entries.rows) == 35
        assert tree_bytes(folder) == before
        await write(pilot)
    there = open_card(str(folder), ()).profile
    assert there is not None and there.origin == "card" and there.trusted
    assert set(tree_bytes(folder)) - set(before) == {"data/cardwright-profile.toml"}


async def test_a_file_that_is_there_is_not_replaced(practice_card: PracticeCard, tmp_path: Path) -> None:
    """Saved in a file of one's choice, a new one."""
    (tmp_path / "mine.toml").write_text("schema = 1\n")
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await leave_question(pilot)
        for name in ("mine.toml", "new.toml"):
            await pilot.press("S")
            await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
            await pilot.press("end", "enter")
            await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
            pilot.app.screen.query_one("#dialog-input").value = str(tmp_path / name)  # type: ignore[attr-defined]
            await pilot.press("enter")
            await until(pilot, lambda: bench_of(pilot).notice)
        await labels_read(pilot)
    assert (tmp_path / "mine.toml").read_text() == "schema = 1\n"
    assert 'name = "larkspur"' in (tmp_path / "new.toml").read_text()


# A profile that exists


def own_profile(name: str, tmp_path: Path, *changes: tuple[str, str]) -> Path:
    """A practice device's profile as a file of the user's, changed."""
    import practice_cards

    text = practice_cards.profile_path(name).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    place = tmp_path / f"{name}.toml"
    place.write_text(text, encoding="utf-8")
    return place


async def open_existing(pilot: Pilot[int]) -> SurveyPage:
    """Go to the page of the card's profile, and wait until it was tried."""
    await labels_read(pilot)
    await pilot.press("7")
    await until(pilot, lambda: isinstance(bench_of(pilot).page, SurveyPage))
    page = page_of(pilot)
    await until(pilot, lambda: page.tried is not None)
    return page


def bench_with(folder: Path, place: Path) -> Workbench:
    from workbench.card.profile_reader import read_profile
    from workbench.tui.desk import Desk

    profile = read_profile(place)
    return Workbench(Desk(open_card(str(folder), [profile], profile)), [profile])


async def test_a_rule_that_matches_nothing_is_marked(practice_card: PracticeCard, tmp_path: Path) -> None:
    """And the names that it should have answered for are listed as under no rule."""
    place = own_profile("larkspur", tmp_path, ("data:house/lately.txt", "data:house/earlier.txt"))
    async with bench_with(practice_card("larkspur"), place).run_test(size=(120, 40)) as pilot:
        await open_existing(pilot)
        marked = [line for line in texts(pilot, "#findings") if line.endswith("! nothing")]
        assert marked == [" in earlier.txt! nothing"]
        await go_to(pilot, "in earlier.txt")
        await until(pilot, lambda: any("no such file is there" in line for line in texts(pilot, "#evidence")))
        await go_to(pilot, "! under no rule")
        await until(pilot, lambda: any("data:house/lately.txt" in line for line in texts(pilot, "#evidence")))


async def test_an_existing_profile_is_corrected_tried_and_saved_where_it_was(
    practice_card: PracticeCard, tmp_path: Path
) -> None:
    """The one line changes, its comments stay, and the menu opens with it."""
    wrong = ("data:house/lately.txt", "data:house/earlier.txt")
    place = own_profile("larkspur", tmp_path, wrong, ('order = "bytes"', 'order = "bytes"  # as it is'))
    before = place.read_text(encoding="utf-8")
    async with bench_with(practice_card("larkspur"), place).run_test(size=(80, 24)) as pilot:
        page = await open_existing(pilot)
        await go_to(pilot, "in earlier.txt")
        await pilot.press("c")
        await until(pilot, lambda: isinstance(pilot.app.screen, ChoiceDialog))
        await pilot.press("enter")
        await type_value(pilot, "data:house/lately.txt")
        await until(pilot, lambda: page.tried and not page.tried.trial.silent)
        assert not [line for line in texts(pilot, "#findings") if line.endswith("! nothing")]
        await pilot.press("s")
        await labels_read(pilot)
    assert place.read_text(encoding="utf-8") == before.replace(*reversed(wrong))


async def test_a_built_in_profile_is_saved_as_the_users_own(practice_card: PracticeCard) -> None:
    """Ours stays as it is; the user's comes first the next time."""
    import practice_cards

    folder = practice_card("larkspur")
    before = practice_cards.profile_path("larkspur").read_bytes()
    async with open_bench(folder, "larkspur").run_test(size=(80, 24)) as pilot:
        page = await open_existing(pilot)
        assert isinstance(page.draft, Existing)
        await go_to(pilot, "art")
        await pilot.press("d", "s")
        await labels_read(pilot)
    assert practice_cards.profile_path("larkspur").read_bytes() == before
    profile = open_card(str(folder), find_profiles()).profile
    assert profile is not None and profile.origin == "user"
    assert [picture.kind for picture in profile.menus[0].pictures] == ["icon"]


async def test_another_profile_is_laid_over_the_card(practice_card: PracticeCard, tmp_path: Path) -> None:
    """One that fits nothing there is refused in a sentence; one that does is tried."""
    import practice_cards

    place = own_profile("larkspur", tmp_path, ('name = "Larkspur"', 'name = "Mine"'))
    async with open_unknown_bench(practice_card("larkspur")).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        await leave_question(pilot)
        for other in (practice_cards.profile_path("orrery"), place):
            await pilot.press("o")
            await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
            pilot.app.screen.query_one("#dialog-input").value = str(other)  # type: ignore[attr-defined]
            await pilot.press("enter")
            await until(pilot, lambda: page.state in ("failed", "ready") and not page.workers)
            if other != place:
                await until(pilot, lambda: page.state == "failed")
                assert any("nothing on this card" in line for line in texts(pilot, "#evidence"))
        await until(pilot, lambda: page.tried is not None)
        assert page.draft and page.draft.name == "Mine"


@pytest.mark.parametrize("key", ["a", "b", "c", "S", "o", "r", "enter"])
async def test_a_key_pressed_twice_asks_once(practice_card: PracticeCard, key: str) -> None:
    """The second press never stacks a second question."""
    folder = practice_card("larkspur")
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        page = await surveyed(pilot)
        if key in ("b", "r"):
            await answer_all(pilot, look_at("larkspur", folder))
        else:
            await leave_question(pilot)
        page.findings.focus()
        await pilot.press("down", key, key)
        await until(pilot, lambda: isinstance(pilot.app.screen, Dialog))
        await pilot.pause(0.1)
        assert sum(isinstance(screen, Dialog) for screen in pilot.app.screen_stack) == 1


async def test_leaving_with_an_unsaved_profile_asks(practice_card: PracticeCard) -> None:
    """Escape stays; leaving is one more key."""
    folder = practice_card("larkspur")
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, look_at("larkspur", folder))
        await pilot.press("q")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("escape", "q")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("d")
        await until(pilot, lambda: not pilot.app.is_running or pilot.app.return_value == 0)

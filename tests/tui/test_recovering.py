"""What a card has to be asked when it comes to the desk, and what happens when it goes."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from test_menu_page import rename, write

from workbench.changes import apply as applying
from workbench.changes.ledger import read_history
from workbench.changes.recover import Unfinished
from workbench.tui.dialog import Question
from workbench.tui.opening import _question
from workbench.tui.write_dialog import WriteDialog

TreeBytes = Callable[[Path], dict[str, Any]]


async def interrupt(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Leave a change on the card that began and did not end: the card fails right after it began."""

    def fail(*_: object) -> None:
        raise OSError(5, "Input/output error")

    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        await rename(pilot, "half way")
        with monkeypatch.context() as broken:
            broken.setattr(applying, "_step", fail)
            await pilot.press("w")
            await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
            await pilot.press("enter")
            await until(pilot, lambda: isinstance(pilot.app.screen, Question) and not bench.is_writing)
        await pilot.press("l")


@pytest.mark.parametrize("key", ["b", "f"])
async def test_an_unfinished_change_is_asked_about_and_ended(
    practice_card: Callable[[str], Path],
    tree_bytes: TreeBytes,
    monkeypatch: pytest.MonkeyPatch,
    key: str,
) -> None:
    """Back is byte for byte the beginning; forward is the whole change; both are offered at the start."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    await interrupt(folder, monkeypatch)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press(key)
        card = bench_of(pilot).desk.card  # type: ignore[union-attr]
        done = "back" if key == "b" else "done"
        await until(pilot, lambda: [change.state for change in read_history(card)] == [done])
    assert (tree_bytes(folder) == before) == (key == "b")
    assert (folder / "data/shelf/half way").is_dir() == (key == "f")


async def test_a_card_that_goes_is_said_to_be_gone(practice_card: Callable[[str], Path]) -> None:
    """Within two seconds, by name, whatever page is open."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await until(pilot, lambda: bench_of(pilot)._watch is not None)
        (folder / "data").rename(folder / "pulled")
        bench = bench_of(pilot)
        await until(pilot, lambda: bench.notice and "data is no longer there" in bench.notice.text)


async def test_a_profile_from_a_card_is_trusted_once(practice_card: Callable[[str], Path]) -> None:
    """It is asked about; `y` opens the card, and the next time it is not asked again."""
    from workbench.host.settings import is_trusted_profile

    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        assert bench.desk and bench.desk.profile
        before = bench.desk
        foreign = replace(bench.desk.profile, origin="card", trusted=False)
        bench.open_card(replace(bench.desk.card, profile=foreign))
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        assert bench.desk is before
        await pilot.press("y")
        await until(pilot, lambda: bench.desk is not before)
        assert is_trusted_profile(foreign.sha256)


async def test_enter_on_a_reference_shows_it_in_its_file(practice_card: Callable[[str], Path]) -> None:
    """From the detail to the manifest's text, at that line."""
    from bench_app import texts

    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await until(pilot, lambda: any("named in" in line for line in texts(pilot, "#detail")))
        said = texts(pilot, "#detail")
        spot = next(n for n, line in enumerate(said) if line.startswith("  line "))
        line = int(said[spot].split()[1])
        await pilot.press("tab", *["down"] * spot, "enter")
        await until(pilot, lambda: bench_of(pilot).page.where == "manifests")  # type: ignore[union-attr]
        await until(pilot, lambda: texts(pilot, "#document"))
        from workbench.tui.line_list import LineList

        assert pilot.app.screen.query_one("#document", LineList).cursor == line - 1


async def test_a_change_is_taken_back_with_all_after_it(
    practice_card: Callable[[str], Path], tree_bytes: TreeBytes
) -> None:
    """Two renames of one entry: the first and all after it are taken back together, to the byte."""
    folder = practice_card("larkspur")
    before = tree_bytes(folder)
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        for name in ("second name", "third name"):
            await rename(pilot, name)
            await write(pilot)
            await until(pilot, lambda name=name: bench.menu_page.entries.row.name == name)
        await pilot.press("4")
        await until(pilot, lambda: len(bench.page._changes) == 2)  # type: ignore[union-attr]
        await pilot.press("down", "U")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        card = bench.desk.card  # type: ignore[union-attr]
        await until(pilot, lambda: len(read_history(card)) == 3 and not bench.is_writing)
        assert tree_bytes(folder) == before


@pytest.mark.parametrize(
    ("waiting_for", "can_go_forward", "offered"),
    [
        ((), True, ["forward", "back", "later"]),
        ((), False, ["back", "later"]),
        (("system",), True, ["without", "later"]),
    ],
)
def test_only_what_can_be_done_is_offered(
    waiting_for: tuple[str, ...], can_go_forward: bool, offered: list[str]
) -> None:
    """With a volume absent, only the way back without it; it is named."""
    unfinished = Unfinished(7, "0007-3f2ac1", "Rename", "", {"data": "begun"}, waiting_for, can_go_forward)
    question = _question(unfinished)
    assert [answer for answer, _word in question._answers.values()] == offered
    assert all(role in question._text for role in waiting_for)


async def test_an_undo_in_conflict_names_it_and_offers_the_rest(practice_card: Callable[[str], Path]) -> None:
    """A line of ours was rewritten by hand: whole is refused, with the file; the other parts go back."""
    folder = practice_card("larkspur")
    lately = folder / "data/house/lately.txt"
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        await pilot.press("slash", *"$mall", "enter")
        await rename(pilot, "other name")
        await write(pilot)
        lately.write_bytes(lately.read_bytes().replace(b"other name", b"rewritten by hand"))
        await pilot.press("4")
        await until(pilot, lambda: len(bench.page._changes) == 1)  # type: ignore[union-attr]
        await pilot.press("u")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        assert "lately.txt" in pilot.app.screen._text  # type: ignore[attr-defined]
        await pilot.press("p")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        card = bench.desk.card  # type: ignore[union-attr]
        await until(pilot, lambda: len(read_history(card)) == 2 and not bench.is_writing)
    assert (folder / "data/shelf/$mall Change").is_dir()
    assert b"rewritten by hand" in lately.read_bytes()

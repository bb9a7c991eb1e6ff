"""The pages of packs and backups, by keys alone; and how they look at 80×24 and 120×40."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import NARROW, WIDE, bench_of, labels_read, open_bench, texts, until
from textual.pilot import Pilot
from textual.widgets import Input

from workbench.changes.apply import apply
from workbench.changes.brought import read_traces
from workbench.tui.app import Workbench
from workbench.tui.dialog import Question
from workbench.tui.path_dialog import PathDialog

TALE = b"#!/bin/sh\nexec leaf tale.txt\n"


@pytest.fixture
def card(practice_card: Callable[[str], Path]) -> Path:
    return practice_card("larkspur")


@pytest.fixture
def pack(tmp_path: Path, card: Path) -> Path:
    """A new entry, a file that clashes with the owner's lines, and one folder of unknown home."""
    lately = (card / "data/house/lately.txt").read_bytes()
    with zipfile.ZipFile(tmp_path / "Foghorn.zip", "w") as made:
        made.writestr("shelf/Foghorn/begin", TALE)
        made.writestr("shelf/Foghorn/tale.txt", b"Woo.\n")
        made.writestr("house/lately.txt", lately + b"\nFoghorn\n")
        made.writestr("shelf/Foghorn/.DS_Store", b"x")
        made.writestr("Buoy/begin", TALE)
    return tmp_path / "Foghorn.zip"


async def open_pack(pilot: Pilot[int], pack: Path) -> None:
    await labels_read(pilot)
    await pilot.press("P")
    await until(pilot, lambda: bench_of(pilot).page.where == "packs" and not pilot.app.workers)
    await pilot.press("o")
    await type_path(pilot, pack)
    await until(pilot, lambda: texts(pilot, "#parts") and not pilot.app.workers)


async def type_path(pilot: Pilot[int], path: Path) -> None:
    await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
    pilot.app.screen.query_one("#dialog-input", Input).value = str(path)
    await pilot.press("enter")
    await until(pilot, lambda: not isinstance(pilot.app.screen, PathDialog))


async def test_a_pack_is_opened_decided_and_added(card: Path, pack: Path) -> None:
    """Where to, mine or theirs, then into the plan; nothing is written before the plan is."""
    before = (card / "data/house/lately.txt").read_bytes()
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await open_pack(pilot, pack)
        words = [line.split("  ")[0].strip() for line in texts(pilot, "#parts")]
        assert words == ["? where to", "! clash", "* new", "* new", "- litter"]
        await pilot.press("tab", "a")
        await until(pilot, lambda: bench_of(pilot).notice)
        await pilot.press("m")
        await until(pilot, lambda: any("= mine" in line for line in texts(pilot, "#parts")))
        await pilot.press("i", "enter")
        await until(pilot, lambda: not pilot.app.workers and "where" not in texts(pilot, "#parts")[0])
        await pilot.press("a")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)
        steps = [str(getattr(step, "at", "")) for step in bench_of(pilot).desk.waiting.plan.steps]
        assert "data:shelf/Foghorn/begin" in steps
        assert "data:house/lately.txt" not in steps
        assert not (card / "data/shelf/Foghorn").exists()
        assert bench_of(pilot).desk.waiting.plan.packs[0].name == "Foghorn"
    assert (card / "data/house/lately.txt").read_bytes() == before


async def test_the_difference_is_shown_in_words(card: Path, pack: Path) -> None:
    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await open_pack(pilot, pack)
        await pilot.press("tab", "down")
        await until(pilot, lambda: any(line.startswith("theirs ") for line in texts(pilot, "#part")))
        assert "theirs Foghorn" in texts(pilot, "#part")


def add(card: Path, pack: Path) -> Workbench:
    """The card with that pack's new entry on it."""
    from workbench.jobs.packs.adding import plan_add_pack
    from workbench.jobs.packs.looking import Answers, look

    bench = open_bench(card, "larkspur")
    desk = bench.desk
    found = look(desk.disk, desk.profile, pack, answers=Answers(without=("Buoy", "house/lately.txt")))
    apply(desk.card, plan_add_pack(desk.disk, desk.profile, found))
    desk.look_again()
    return bench


async def test_a_pack_is_taken_out_and_what_was_edited_asks(card: Path, pack: Path) -> None:
    """What the owner edited since is named in a question; on yes the rest joins the plan."""
    bench = add(card, pack)
    (card / "data/shelf/Foghorn/tale.txt").write_bytes(b"mine")
    async with bench.run_test(size=NARROW) as pilot:
        await labels_read(pilot)
        await pilot.press("P")
        await until(pilot, lambda: texts(pilot, "#packs") and not pilot.app.workers)
        assert texts(pilot, "#packs")[0].startswith("Foghorn")
        await pilot.press("d")
        await until(pilot, lambda: isinstance(pilot.app.screen, Question))
        await pilot.press("r")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)
        plan = bench_of(pilot).desk.waiting.plan
        apply(bench_of(pilot).desk.card, plan)
    assert (card / "data/shelf/Foghorn/tale.txt").read_bytes() == b"mine"
    assert not (card / "data/shelf/Foghorn/begin").exists()
    assert read_traces(bench.desk.card).packs == ()


async def test_a_pack_does_not_join_other_wishes(card: Path, pack: Path) -> None:
    from test_menu_page import rename

    async with open_bench(card, "larkspur").run_test(size=WIDE) as pilot:
        await labels_read(pilot)
        await rename(pilot, "another name")
        await until(pilot, lambda: bench_of(pilot).desk.waiting and not pilot.app.workers)
        count = len(bench_of(pilot).desk.waiting.wishes)
        await open_pack(pilot, pack)
        await pilot.press("tab", "down", "m", "a")
        await pilot.pause()
        assert len(bench_of(pilot).desk.waiting.wishes) == count


async def test_a_backup_is_taken_compared_and_restored(card: Path, tmp_path: Path) -> None:
    """By keys alone: take, spoil two files, open, mark one, restore that one."""
    target = tmp_path / "b.zip"
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await labels_read(pilot)
        await pilot.press("B", "t")
        await type_path(pilot, target)
        await until(pilot, lambda: target.exists() and not pilot.app.workers)
        assert texts(pilot, "#differences") == []
        (card / "data/house/lately.txt").write_bytes(b"spoiled")
        (card / "data/keep/Boats.save").unlink()
        await pilot.press("o")
        await type_path(pilot, target)
        await until(pilot, lambda: len(texts(pilot, "#differences")) == 2 and not pilot.app.workers)
        await pilot.press("v")
        await until(pilot, lambda: "whole" in str(bench_of(pilot).notice))
        await pilot.press("down", "space", "r")
        await until(pilot, lambda: bench_of(pilot).desk.waiting)
        steps = bench_of(pilot).desk.waiting.plan.steps
        assert [str(step.at) for step in steps] == ["data:keep/Boats.save"]


async def test_another_card_is_weighed(card: Path) -> None:
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await labels_read(pilot)
        await pilot.press("B", "f")
        await until(pilot, lambda: len(pilot.app.screen_stack) > 2)
        await pilot.press("enter")
        await until(
            pilot, lambda: texts(pilot, "#differences") if len(pilot.app.screen_stack) == 2 else False
        )
        assert texts(pilot, "#differences")[0].startswith("data  ")
        await pilot.press("escape")
        assert texts(pilot, "#differences") == []


async def test_a_backup_onto_the_card_is_refused(card: Path) -> None:
    async with open_bench(card, "larkspur").run_test(size=NARROW) as pilot:
        await labels_read(pilot)
        await pilot.press("B", "t")
        await type_path(pilot, card / "data/b.zip")
        await until(pilot, lambda: "on the card itself" in str(bench_of(pilot).notice))
    assert not (card / "data/b.zip").exists()


# How they look


@pytest.fixture
def bench(card: Path, monkeypatch: pytest.MonkeyPatch) -> Workbench:
    from dataclasses import replace

    from workbench.tui.desk import Desk

    monkeypatch.setattr("workbench.tui.app.LOOK_EVERY_S", 3600)
    app = open_bench(card, "larkspur")
    volumes = {role: replace(one, cluster_bytes=4096) for role, one in app.desk.card.volumes.items()}
    return Workbench(
        Desk(replace(app.desk.card, name="Larkspur", volumes=volumes), app.desk.profile), app.profiles
    )


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_the_page_of_packs(bench: Workbench, pack: Path, size: tuple[int, int], snap_compare: Any) -> None:
    """A clash under the cursor, with the lines that differ."""

    async def before(pilot: Pilot[int]) -> None:
        await open_pack(pilot, pack)
        await pilot.press("tab", "down")
        await until(pilot, lambda: any(line.startswith("theirs ") for line in texts(pilot, "#part")))
        await until(pilot, lambda: not pilot.app.workers)

    assert snap_compare(bench, terminal_size=size, run_before=before)


@pytest.mark.parametrize("size", [NARROW, WIDE], ids=["80x24", "120x40"])
def test_the_page_of_another_card(bench: Workbench, size: tuple[int, int], snap_compare: Any) -> None:
    """What a move would cost."""

    async def before(pilot: Pilot[int]) -> None:
        await labels_read(pilot)
        await pilot.press("B", "f")
        await until(pilot, lambda: len(pilot.app.screen_stack) > 2)
        await pilot.press("enter")
        await until(pilot, lambda: len(pilot.app.screen_stack) == 2 and texts(pilot, "#differences"))
        await until(pilot, lambda: not pilot.app.workers)

    assert snap_compare(bench, terminal_size=size, run_before=before)

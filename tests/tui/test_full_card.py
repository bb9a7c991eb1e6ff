"""A card too full to keep what is replaced: the workbench offers a folder of this computer."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from textual.pilot import Pilot

from workbench.changes.ledger import read_history
from workbench.changes.space import Room
from workbench.jobs.splash import plan_put
from workbench.tui.dialog import Question
from workbench.tui.path_dialog import PathDialog
from workbench.tui.waiting import Waiting
from workbench.tui.write_dialog import WriteDialog


async def write_splash(pilot: Pilot[int], folder: Path) -> None:
    """A new splash waits, and is to be written to a card that has no room to keep the old one."""
    from PIL import Image

    await labels_read(pilot)
    picture = folder.parent / "picture.png"
    Image.frombytes("RGB", (512, 384), os.urandom(512 * 384 * 3)).save(picture)
    bench = bench_of(pilot)
    assert bench.desk is not None and bench.desk.profile is not None
    bench.desk.waiting = Waiting((plan_put(bench.desk.disk, bench.desk.profile, ("start",), picture),))
    await pilot.press("w")
    await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
    await pilot.press("enter")
    await until(pilot, lambda: isinstance(pilot.app.screen, Question))


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workbench.changes.preflight.read_room", lambda _: Room(1_800_000, 4096))


@pytest.mark.usefixtures("full")
async def test_a_folder_is_asked_for_and_used(practice_card: Callable[[str], Path], tmp_path: Path) -> None:
    """The question says what is too full; the typed folder gets the copies, and the history says so."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(80, 24)) as pilot:
        await write_splash(pilot, folder)
        await pilot.press("k")
        await until(pilot, lambda: isinstance(pilot.app.screen, PathDialog))
        await pilot.press(*str(tmp_path / "kept"), "enter")
        desk = bench_of(pilot).desk
        assert desk is not None
        await until(pilot, lambda: not desk.waiting)
        (change,) = read_history(desk.card)
        assert change.kept_on.startswith(str(tmp_path / "kept")) and change.is_keep_here


@pytest.mark.usefixtures("full")
async def test_stepping_back_keeps_the_plan(practice_card: Callable[[str], Path]) -> None:
    """Nothing is written, and the plan waits as before."""
    folder = practice_card("larkspur")
    async with open_bench(folder, "larkspur").run_test(size=(120, 40)) as pilot:
        await write_splash(pilot, folder)
        await pilot.press("escape")
        await until(pilot, lambda: not isinstance(pilot.app.screen, Question))
        desk = bench_of(pilot).desk
        assert desk is not None and desk.waiting and read_history(desk.card) == ()

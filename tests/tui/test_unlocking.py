"""A volume that is read-only on purpose is opened for one change by the person's word, and only then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from test_menu_page import rename

from workbench.card import read_only
from workbench.card.mounts import Mount
from workbench.card.read_only import ReadOnly
from workbench.changes import opening_up
from workbench.tui.app import Workbench
from workbench.tui.dialog import Question
from workbench.tui.write_dialog import WriteDialog
from workbench.values import replace


class Machine:
    """A mount that says how often it was opened and closed."""

    def __init__(self, root: Path, *, can_open: bool) -> None:
        self.can_open = can_open
        self.acts: list[str] = []
        self.mount = Mount(str(root), "/dev/none", "vfat", ("ro",), number="8:1", super_options=("ro",))

    def remount(self, mount: Mount, writable: bool) -> None:
        self.acts.append("open" if writable else "close")
        state = ("rw",) if writable else ("ro",)
        self.mount = Mount(mount.point, mount.device, "vfat", state, number="8:1", super_options=state)

    def judge(self, _card: object, role: str) -> ReadOnly:
        return ReadOnly(role, self.can_open, "is mounted read-only", self.mount if self.can_open else None)


@pytest.fixture
def locked(
    practice_card: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch
) -> Callable[[bool], tuple[Workbench, Machine, Path]]:
    """`locked(can_open)`: the workbench on a card all of whose volumes are read-only."""

    def make(can_open: bool) -> tuple[Workbench, Machine, Path]:
        folder = practice_card("larkspur")
        bench, machine = open_bench(folder, "larkspur"), Machine(folder / "data", can_open=can_open)
        assert bench.desk is not None
        volumes = {role: replace(one, read_only=True) for role, one in bench.desk.card.volumes.items()}
        bench.desk.card = replace(bench.desk.card, volumes=volumes)
        monkeypatch.setattr(opening_up, "read_mounts", lambda: (machine.mount,))
        monkeypatch.setattr(opening_up, "remount_mount", machine.remount)
        monkeypatch.setattr(opening_up, "judge_read_only", machine.judge)
        monkeypatch.setattr(read_only, "judge_read_only", machine.judge)
        return bench, machine, folder

    return make


@pytest.mark.parametrize("key", ["o", "escape"])
async def test_it_is_opened_where_the_person_says_so(
    locked: Callable[[bool], tuple[Workbench, Machine, Path]], key: str
) -> None:
    """Asked after the confirmation; on yes the change is made and the volume is closed again."""
    bench, machine, folder = locked(True)
    async with bench.run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "Under lock")
        await pilot.press("w")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        while True:
            await until(pilot, lambda: isinstance(pilot.app.screen, Question))
            asked = pilot.app.screen
            await pilot.press(key)
            await until(pilot, lambda: pilot.app.screen is not asked)  # noqa: B023 - asked at once
            if key == "escape" or not isinstance(pilot.app.screen, Question):
                break
        desk = bench_of(pilot).desk
        assert desk is not None
        if key == "o":
            await until(pilot, lambda: not desk.waiting and not bench_of(pilot).is_writing)
        assert bool(desk.waiting) == (key == "escape")
    assert machine.acts == (["open", "close"] if key == "o" else [])
    assert (folder / "data/shelf/Under lock").is_dir() == (key == "o")


async def test_one_that_may_not_be_opened_is_refused(
    locked: Callable[[bool], tuple[Workbench, Machine, Path]],
) -> None:
    """With the reason; the plan goes on waiting and nothing was asked or changed."""
    bench, machine, folder = locked(False)
    async with bench.run_test(size=(120, 40)) as pilot:
        await labels_read(pilot)
        await rename(pilot, "Under lock")
        await pilot.press("w")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await pilot.press("enter")
        await until(pilot, lambda: "read-only" in str(bench_of(pilot).notice))
        assert bench_of(pilot).desk.waiting  # type: ignore[union-attr]
    assert not machine.acts and not (folder / "data/shelf/Under lock").exists()

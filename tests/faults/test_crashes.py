"""Every call that changes a file system is hit in turn; the card can then go forward and back, exactly."""

from __future__ import annotations

import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fault_runs import (
    FAULTS,
    Scene,
    copy_card,
    end_with,
    give_host_back,
    judge,
    list_calls,
    open_card,
    run,
    save_host,
    set_scene,
    strike,
)
from fault_scenes import SCENES, state_of

from workbench.changes.recover import find_unfinished, recover

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")

PART = 4
"""Calls hit for each scene and fault when not the whole sweep is asked for."""


@pytest.fixture
def room() -> Iterator[Path]:
    """A folder in memory, where flushing costs nothing; what is cut off is the program, not the power."""
    parent = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix="faults-", dir=parent))
    yield folder
    shutil.rmtree(folder)


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", SCENES)
def test_some_calls_hit(name: str, fault: str, room: Path) -> None:
    """A seeded few of the calls; the sweep below takes them all."""
    scene = set_scene(name, room)
    chosen = random.Random(f"{name} {fault}").sample(scene.calls, PART)
    for call in chosen:
        judge(scene, *strike(scene, call, fault, room), room)


@pytest.mark.sweep
@pytest.mark.parametrize("lasting", [False, True], ids=["once", "from-then-on"])
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", SCENES)
def test_every_call_hit(name: str, fault: str, lasting: bool, room: Path) -> None:
    """All of them, once and from then on; each state that a change can be found in occurs."""
    if fault == "kill" and lasting:
        pytest.skip("a program is killed only once")
    scene = set_scene(name, room)
    found = []
    for call in scene.calls:
        try:
            found.append(judge(scene, *strike(scene, call, fault, room, lasting=lasting), room))
        except AssertionError as error:
            raise AssertionError(f"{name}, {fault} at {call}: {error}") from error
    print(
        f"{name} {fault}: {len(found)} calls hit; { ({state: found.count(state) for state in set(found)}) }"
    )
    assert len(found) >= 30
    assert "begun" in found
    assert ("not begun" if fault == "kill" else "refused") in found


def begin(scene: Scene, room: Path) -> Path:
    """The card, cut off about half way through the moves."""
    moves = [call for call in scene.calls if call.name.startswith("rename")]
    card, _ = strike(scene, moves[len(moves) // 2], "kill", room)
    assert find_unfinished(open_card(card)) is not None
    return card


@pytest.mark.parametrize("way", ["forward", "back"])
@pytest.mark.parametrize("name", ["rename", "mixed"])
def test_some_calls_of_a_recovery_hit(name: str, way: str, room: Path) -> None:
    """A seeded few."""
    _hit_recovery(name, way, "kill", room, part=3)


@pytest.mark.sweep
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("way", ["forward", "back"])
@pytest.mark.parametrize("name", SCENES)
def test_every_call_of_a_recovery_hit(name: str, way: str, fault: str, room: Path) -> None:
    """A recovery that is cut off can be run again, either way."""
    _hit_recovery(name, way, fault, room, part=None)


def _hit_recovery(name: str, way: str, fault: str, room: Path, part: int | None) -> None:
    scene = set_scene(name, room)
    begun = copy_card(begin(scene, room), room / "begun")
    saved = save_host(room)
    trial = copy_card(begun, room / "card")
    log = room / "log"
    done = run(trial, f"recover-{way}", "-y", "-o", str(log), "-e", "trace=" + ",".join(_names(scene)))
    assert done.returncode == 0, done.stderr
    calls = list_calls(log, trial)
    aim = Scene(f"recover-{way}", begun, state_of(begun), state_of(trial), calls)
    chosen = calls if part is None else random.Random(f"{name} {way}").sample(calls, part)
    for call in chosen:
        give_host_back(saved, room)
        card, code = strike(aim, call, fault, room)
        if find_unfinished(open_card(card)) is None:
            recover(open_card(card), "back")
            assert state_of(card) == aim.end
            continue
        assert code != 0
        give_host_back(saved, room)
        other = copy_card(card, room / "other")
        end_with(open_card(card), "forward", scene.end, card)
        end_with(open_card(other), "back", scene.start, other)
    print(f"recovery of {name} {way} {fault}: {len(chosen)} calls hit")


def _names(scene: Scene) -> list[str]:
    return sorted({call.name for call in scene.calls} | {"write", "fsync", "unlinkat", "fchmod"})

"""Mending everything, cut off at any call: the card goes forward and back, exactly."""

from __future__ import annotations

import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import fault_runs
import fault_scenes
import mend_scene
import pytest
from fault_runs import FAULTS, judge, open_card, set_scene, strike

from workbench.changes.plan import Move, Remove, Write

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")

PART = 4
"""Calls hit for each fault when not the whole sweep is asked for."""


@pytest.fixture
def room(monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """A folder in memory, with the broken card and the process that mends it in place of the usual ones."""
    monkeypatch.setattr(fault_scenes, "lay_out", mend_scene.lay_out)
    monkeypatch.setattr(fault_runs, "DRIVER", Path(mend_scene.__file__))
    parent = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix="faults-", dir=parent))
    yield folder
    shutil.rmtree(folder)


def test_the_plan_has_all_that_mends_come_to(room: Path) -> None:
    """Manifests are written, an entry is renamed with what goes with it, litter is put away."""
    mend_scene.lay_out(room / "start")
    plan = mend_scene.plan_everything(open_card(room / "start"))
    assert {type(step) for step in plan.steps} == {Write, Move, Remove}
    assert set(plan.volumes) == {"data", "system"}
    assert len(plan.steps) > 8


@pytest.mark.parametrize("fault", FAULTS)
def test_some_calls_hit(fault: str, room: Path) -> None:
    """A seeded few of the calls; the sweep below takes them all."""
    scene = set_scene(mend_scene.SCENE, room)
    for call in random.Random(f"mend {fault}").sample(scene.calls, PART):
        judge(scene, *strike(scene, call, fault, room), room)


@pytest.mark.sweep
@pytest.mark.parametrize("fault", FAULTS)
def test_every_call_hit(fault: str, room: Path) -> None:
    """All of them; each state that a change can be found in occurs."""
    scene = set_scene(mend_scene.SCENE, room)
    found = [judge(scene, *strike(scene, call, fault, room), room) for call in scene.calls]
    assert len(found) >= 30
    assert "begun" in found

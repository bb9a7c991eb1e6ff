"""Adding a pack, taking it out and restoring a backup, cut off at every call: exact forward and back."""

from __future__ import annotations

import os
import random
import shutil
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from fault_runs import FAULTS, judge, set_scene, strike
from pack_scenes import PACK_SCENES

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")

PART = 3
"""Calls hit for each scene when not the whole sweep is asked for."""


@pytest.fixture
def room() -> Iterator[Path]:
    """A folder in memory, where flushing costs nothing; what is cut off is the program, not the power."""
    parent = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None
    folder = Path(tempfile.mkdtemp(prefix="faults-", dir=parent))
    yield folder
    shutil.rmtree(folder)


@pytest.mark.parametrize(("name", "fault"), zip(PACK_SCENES, FAULTS, strict=True))
def test_some_calls_of_packs_hit(name: str, fault: str, room: Path) -> None:
    """A seeded few, each scene with another fault; the sweep below takes all of all."""
    scene = set_scene(name, room)
    for call in random.Random(f"{name} {fault}").sample(scene.calls, PART):
        judge(scene, *strike(scene, call, fault, room), room)


@pytest.mark.sweep
@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.parametrize("name", PACK_SCENES)
def test_every_call_of_packs_hit(name: str, fault: str, room: Path) -> None:
    """All of them; every state that a change can be found in occurs."""
    scene = set_scene(name, room)
    found = []
    for call in scene.calls:
        try:
            found.append(judge(scene, *strike(scene, call, fault, room), room))
        except AssertionError as error:
            raise AssertionError(f"{name}, {fault} at {call}: {error}") from error
    print(f"{name} {fault}: {len(found)} calls hit; { ({one: found.count(one) for one in set(found)}) }")
    assert len(found) >= 30
    assert "begun" in found

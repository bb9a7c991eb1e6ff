"""Editing on the device itself, while its menu runs and keeps a list of its own in memory."""

from __future__ import annotations

import random
from collections.abc import Iterator
from pathlib import Path

import practice_cards
import pytest
from device_at_work import DeviceAtWork

from workbench.card.disk_tree import DiskTree
from workbench.card.menu import read_menus
from workbench.changes.apply import apply
from workbench.changes.ledger import read_history
from workbench.changes.plan import Plan, Remove
from workbench.changes.quiet_device import is_left_stopped, menu_stopped, quiet_device, start_again
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError, PreflightError
from workbench.jobs.device_menu import complete_for_device, plan_for_device
from workbench.jobs.rename import plan_rename
from workbench.values import replace


@pytest.fixture
def device(tmp_path: Path) -> Iterator[DeviceAtWork]:
    at_work = DeviceAtWork(tmp_path)
    yield at_work
    at_work.kill()


def rename(device: DeviceAtWork, old: str, new: str) -> None:
    """As either face does it: plan, complete, stop the menu, write, start it."""
    tree, profile = DiskTree(device.card), device.card.profile
    assert profile is not None
    menu = read_menus(tree, profile)[0]
    entry = next(one for one in menu.entries if one.name == old)
    carry_out(device, plan_rename(tree, profile, menu, entry, new))


def carry_out(device: DeviceAtWork, plan: Plan) -> None:
    plan = complete_for_device(device.card, DiskTree(device.card), plan)
    assert not plan.conflicts
    with quiet_device(device.card, plan) as quiet:
        apply(device.card, quiet.plan)
    assert not quiet.notes


def test_an_edit_behind_the_running_menus_back_would_be_lost(device):
    """What the rest of this file guards against does happen without it."""
    device.start()
    tree, profile = DiskTree(device.card), device.card.profile
    menu = read_menus(tree, profile)[0]
    entry = next(one for one in menu.entries if one.name == "HoneyMoon")
    apply(device.card, plan_rename(tree, profile, menu, entry, "Renamed"))
    device.stop()
    assert b"'HoneyMoon'" in (device.root / "almanac/seen.toml").read_bytes()


def test_with_the_menu_stopped_both_edits_survive(device):
    """Ours, and the count that the menu had in memory; its cached list is made anew, after an undo too."""
    device.start()
    assert device.look()
    rename(device, "HoneyMoon", "Renamed")
    assert device.is_running
    device.stop()
    told = (device.root / "almanac/seen.toml").read_bytes()
    assert b"Renamed" in told and b"HoneyMoon" not in told
    assert device.times() == 4
    assert b"Renamed\0" in (device.root / "almanac/index.cache").read_bytes()
    carry_out(device, plan_undo(device.card, 1))
    device.start()
    assert b"HoneyMoon\0" in (device.root / "almanac/index.cache").read_bytes()


@pytest.mark.parametrize("seed", range(4))
def test_no_edit_is_lost_however_things_interleave(tmp_path, seed):
    """Seeded: started, looked at, stopped, killed, edited, undone."""
    interleave(tmp_path, seed)


@pytest.mark.sweep
@pytest.mark.parametrize("seed", range(4, 204))
def test_no_edit_is_lost_in_two_hundred_interleavings(tmp_path, seed):
    """The same, two hundred times."""
    interleave(tmp_path, seed)


def interleave(tmp_path: Path, seed: int) -> None:
    """Random acts on a device at work; then its list must name every piece as it is called, and every count
    that the menu had time to write must be there."""
    chance = random.Random(seed)
    device = DeviceAtWork(tmp_path)
    names = {"Moon": "Moon", "HoneyMoon": "HoneyMoon", "Mars & Back": "Mars & Back"}
    written, pending = device.times(), 0
    try:
        for number in range(10):
            act = chance.choice(("start", "stop", "kill", "look", "look", "rename", "rename", "undo"))
            if act == "start":
                device.start()
            elif act == "kill":
                device.kill()
                pending = 0
            elif act == "look":
                pending += device.look()
            elif act == "stop":
                device.stop()
            elif act == "rename":
                key = chance.choice(sorted(names))
                names[key] = rename_to(device, names[key], f"{key} turn {number}")
            elif act == "undo":
                undo_last(device, names)
            if act in ("stop", "rename", "undo"):
                written, pending = written + pending, 0
        device.stop()
        seen = practice_cards.read_device("orrery", device.folder)
        assert not [one for one in seen["problems"] if "seen.toml" in one], seen["problems"]
        assert device.times() == written + pending
        text = (device.root / "almanac/seen.toml").read_text()
        assert f'"{names["Moon"]}"' in text and names["HoneyMoon"] in text
    finally:
        device.kill()


def rename_to(device: DeviceAtWork, old: str, new: str) -> str:
    rename(device, old, new)
    return new


def undo_last(device: DeviceAtWork, names: dict[str, str]) -> None:
    """Take the last rename back, as far as the ledger has one."""
    standing = [one for one in read_history(device.card) if one.undone_by is None and not one.undoes]
    if not standing:
        with menu_stopped(device.card):
            return
    carry_out(device, plan_undo(device.card, standing[-1].number))
    there = {entry.name for entry in read_menus(DiskTree(device.card), device.card.profile)[0].entries}
    for key, name in names.items():
        if name not in there:
            names[key] = next(one for one in there if one == key or one.startswith(f"{key} turn "))


def test_a_device_that_cannot_be_stopped_refuses_such_an_edit(device):
    """The finding says what would be lost, and what to do; other edits say to restart the device."""
    rule = replace(device.card.profile.device, stop=None)
    card = replace(device.card, profile=replace(device.card.profile, device=rule))
    tree = DiskTree(card)
    menu = read_menus(tree, card.profile)[0]
    entry = next(one for one in menu.entries if one.name == "HoneyMoon")
    beside = plan_for_device(card, tree, plan_rename(tree, card.profile, menu, entry, "Renamed"))
    assert "would be lost" in beside.conflicts[0].because
    assert any("Restart the device" in note for note in beside.notes)


def test_in_a_computer_nothing_is_stopped(device):
    """The cached list is put away all the same."""
    card = replace(device.card, source="folder")
    tree = DiskTree(card)
    menu = read_menus(tree, card.profile)[0]
    beside = plan_for_device(
        card, tree, plan_rename(tree, card.profile, menu, menu.entries[0], "Something else")
    )
    assert [step.at.path for step in beside.steps if isinstance(step, Remove)] == ["almanac/index.cache"]
    assert not beside.conflicts and not any("stopped" in note for note in beside.notes)


def test_a_menu_that_does_not_stop_changes_nothing(device, tree_bytes):
    """The refusal says so, and the menu is started again."""
    before = tree_bytes(device.folder)
    rule = replace(device.card.profile.device, stop="/bin/false")
    device.card = replace(device.card, profile=replace(device.card.profile, device=rule))
    with pytest.raises(PreflightError, match="could not be stopped"), menu_stopped(device.card):
        raise AssertionError("nothing may be written")
    assert device.is_running and not is_left_stopped(device.card)
    device.kill()
    after = tree_bytes(device.folder)
    assert {name for name in after if before.get(name) != after[name]} <= {
        "disk/almanac/index.cache",
        "disk/almanac",
    }


def test_a_write_that_fails_starts_the_menu_again(device):
    """Whatever goes wrong in between."""
    device.start()
    with pytest.raises(CardwrightError, match="full"), menu_stopped(device.card):
        assert not device.is_running
        raise CardwrightError("full")
    assert device.is_running


def test_a_program_that_was_killed_leaves_a_note(device, tmp_path):
    """The next one starts the menu again; only ever by the command that the profile in use has."""
    import subprocess
    import sys

    device.start()
    code = (
        "import sys, os; sys.path.insert(0, sys.argv[1]); from pathlib import Path\n"
        "import device_at_work as d; from workbench.changes.quiet_device import menu_stopped\n"
        "class Found(d.DeviceAtWork):\n"
        "    pass\n"
        "d.practice_cards.lay_out = lambda name, folder: folder\n"
        "found = Found(Path(sys.argv[2]))\n"
        "with menu_stopped(found.card): os.kill(os.getpid(), 9)\n"
    )
    here = Path(__file__).parent
    words = [sys.executable, "-c", code, str(here), str(tmp_path)]
    import os

    paths = os.pathsep.join([str(here), str(here.parent), str(here.parent.parent)])
    ended = subprocess.run(words, env={**os.environ, "PYTHONPATH": paths}, check=False)
    assert ended.returncode == -9
    assert not device.is_running and is_left_stopped(device.card)
    assert start_again(device.card) == []
    assert device.is_running and not is_left_stopped(device.card)

"""The main job on exFAT (exfat-fuse, loop device): readers judge, undo brings all back, fsck is clean."""

from __future__ import annotations

import contextlib
import io
import json
import os
import random
import shutil
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from exfat_mount import ExfatMount

from workbench.cli.main import main

pytestmark = pytest.mark.real

NEW = "Ça & là's [new]"


def _run(*words: str) -> dict[str, Any]:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        code = main([*words, "--json"])
    assert code == 0, printed.getvalue()
    return json.loads(printed.getvalue())


def _fill(mount: ExfatMount, device: str) -> Path:
    """A practice card on the mount: its volumes as folders of one file system."""
    for role in practice_cards.roles(device):
        shutil.copytree(
            practice_cards.FIXTURES / "cards" / device / role,
            mount.root / role,
            copy_function=shutil.copyfile,
        )
    mount.remount()
    return mount.root


def _contents(folder: Path) -> dict[str, bytes | None]:
    return {
        name: content if kind == "file" else None
        for name, (kind, _, content) in practice_cards.tree_bytes(folder).items()
    }


def _profile(device: str) -> tuple[str, str]:
    return "--profile", str(practice_cards.profile_path(device))


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_the_main_job_on_exfat(device: str, exfat: ExfatMount) -> None:
    """Rename with references, blank the splash, undo both: readers agree, every name and byte comes back."""
    card = _fill(exfat, device)
    before, seen = _contents(card), practice_cards.read_device(device, card)
    pairs = [(menu["id"], entry["name"]) for menu in seen["menus"] for entry in menu["entries"]]
    menu, entry = next((pair for pair in pairs if "Boats" in pair[1]), pairs[len(pairs) // 2])
    new = NEW + (Path(entry).suffix if device == "fernway" else "")
    _run("rename", str(card), f"{menu}:{entry}", new, "--yes", *_profile(device))
    _run("splash", str(card), "blank", "--background", "#203040", "--yes", *_profile(device))
    after = practice_cards.read_device(device, card)
    assert after["problems"] == seen["problems"] == []
    assert new in [found["name"] for shown in after["menus"] for found in shown["entries"]]
    assert after["splash"] != seen["splash"]
    exfat.check_clean()
    _run("undo", str(card), "2", "--yes", *_profile(device))
    _run("undo", str(card), "1", "--yes", *_profile(device))
    exfat.remount()
    assert _contents(card) == before
    exfat.check_clean()


def test_a_folders_own_order_is_set_on_exfat(exfat: ExfatMount) -> None:
    """Read back after a remount, the order is the one wanted; undo restores the old one."""
    card = _fill(exfat, "orrery")
    start = _names(card)
    middle = start[len(start) // 2]
    _run("arrange", str(card), "--first", middle, "--yes", *_profile("orrery"))
    exfat.remount()
    assert _names(card) == [middle, *(name for name in start if name != middle)]
    _run("undo", str(card), "--yes", *_profile("orrery"))
    exfat.remount()
    assert _names(card) == start
    exfat.check_clean()


def test_a_whole_folder_order_is_set_on_exfat(exfat: ExfatMount) -> None:
    """All entries shuffled, hidden and loose files among them: right after a remount, and undone exactly."""
    card = _fill(exfat, "orrery")
    for name in (".hidden", "loose file.txt"):
        (card / "disk" / "sky" / name).write_text(name)
    exfat.remount()
    before, start = _contents(card), _names(card)
    slots = os.listdir(card / "disk" / "sky")
    wanted = random.Random(5).sample(start, len(start))
    _run("arrange", str(card), "--order", *wanted, "--yes", *_profile("orrery"))
    exfat.remount()
    assert _names(card) == wanted
    assert practice_cards.read_device("orrery", card)["problems"] == []
    _run("undo", str(card), "--yes", *_profile("orrery"))
    exfat.remount()
    assert os.listdir(card / "disk" / "sky") == slots
    assert _contents(card) == before
    exfat.check_clean()


def _names(card: Path) -> list[str]:
    return [entry["name"] for entry in practice_cards.read_device("orrery", card)["menus"][0]["entries"]]

"""Whole entries on exFAT (exfat-fuse, loop device), the folder's own order included; readers judge."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from exfat_mount import ExfatMount

from workbench.cli.main import main

pytestmark = pytest.mark.real


MADE_ANEW = ("disk/almanac/index.cache",)
"""What the device makes from the rest, and any change puts away."""


def _run(*words: str) -> dict[str, Any]:
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        code = main([*words, "--yes", "--json"])
    assert code == 0, printed.getvalue()
    return json.loads(printed.getvalue())


def _contents(folder: Path) -> dict[str, bytes | None]:
    return {
        name: content if kind == "file" else None
        for name, (kind, _, content) in practice_cards.tree_bytes(folder).items()
    }


def _names(seen: dict[str, Any]) -> list[str]:
    return [entry["name"] for entry in seen["menus"][0]["entries"]]


@pytest.mark.parametrize(("device", "name"), [("larkspur", "Boats 2"), ("orrery", "HoneyMoon")])
def test_whole_entries_on_exfat(device: str, name: str, exfat: ExfatMount) -> None:
    """Hide and show, copy, remove the copy, undo: the readers agree, every name and byte comes back."""
    for role in practice_cards.roles(device):
        source = practice_cards.FIXTURES / "cards" / device / role
        shutil.copytree(source, exfat.root / role, copy_function=shutil.copyfile)
    exfat.remount()
    card, profile = str(exfat.root), ("--profile", str(practice_cards.profile_path(device)))
    before, order = _contents(exfat.root), _names(practice_cards.read_device(device, exfat.root))
    _run("entry", card, "hide", name, *profile)
    exfat.remount()
    assert _names(practice_cards.read_device(device, exfat.root)) == [one for one in order if one != name]
    _run("entry", card, "show", name, *profile)
    exfat.remount()
    bare = {name: one for name, one in before.items() if name not in MADE_ANEW}
    assert _contents(exfat.root) == bare
    assert _names(practice_cards.read_device(device, exfat.root)) == order
    _run("entry", card, "copy", name, "Copy 'é'", "--label", "Shown", *profile)
    exfat.remount()
    seen = practice_cards.read_device(device, exfat.root)
    assert [entry["label"] for entry in seen["menus"][0]["entries"] if entry["name"] == "Copy 'é'"] == [
        "Shown"
    ]
    _run("entry", card, "remove", "Copy 'é'", *profile)
    assert _contents(exfat.root) == bare
    for _ in range(4):
        _run("undo", card, *profile)
    exfat.remount()
    assert _contents(exfat.root) == before
    assert _names(practice_cards.read_device(device, exfat.root)) == order

"""Practice cards for the tests: copies of `fixtures/cards`, their device readers, and trees as bytes."""

from __future__ import annotations

import json
import os
import shutil
import stat
import subprocess
import sys
from pathlib import Path
from typing import Any

FIXTURES = Path(__file__).resolve().parent.parent / "fixtures"

DEVICES = ("larkspur", "fernway", "orrery")

TreeBytes = dict[str, tuple[str, int, bytes]]


def profile_path(name: str) -> Path:
    """The profile of a practice device."""
    return FIXTURES / "profiles" / f"{name}.toml"


def roles(name: str) -> tuple[str, ...]:
    """The roles of its volumes, which are the sub-folders of its card."""
    return tuple(sorted(item.name for item in (FIXTURES / "cards" / name).iterdir()))


def lay_out(name: str, folder: Path) -> Path:
    """Copy a practice card into a folder, modes kept; returns the folder that holds its volumes."""
    shutil.copytree(FIXTURES / "cards" / name, folder, symlinks=True)
    return folder


def read_device(name: str, folder: Path) -> dict[str, Any]:
    """What the device's own reader, a program apart, sees on a card."""
    words = [f"{role}={folder / role}" for role in roles(name)]
    reader = FIXTURES / "readers" / f"{name}.py"
    ended = subprocess.run(
        [sys.executable, "-I", str(reader), *words, "--json"], capture_output=True, check=True, timeout=60
    )
    seen: dict[str, Any] = json.loads(ended.stdout)
    return seen


def tree_bytes(folder: Path) -> TreeBytes:
    """Kind, mode and content of everything below a folder but the ledger; a link's content is its target."""
    found: TreeBytes = {}
    for here, folders, files in os.walk(folder):
        if ".cardwright" in folders:
            folders.remove(".cardwright")
        for name in folders + files:
            place = os.path.join(here, name)
            found[os.path.relpath(place, folder)] = _described(place)
    return found


def _described(place: str) -> tuple[str, int, bytes]:
    mode = os.lstat(place).st_mode
    if stat.S_ISLNK(mode):
        return "link", 0, os.fsencode(os.readlink(place))
    if stat.S_ISDIR(mode):
        return "folder", stat.S_IMODE(mode), b""
    with open(place, "rb") as held:
        return "file", stat.S_IMODE(mode), held.read()

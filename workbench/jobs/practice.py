"""Practice cards: invented devices laid out in a folder of the user's own, to try everything on.

Writes only new files into a folder that is empty or not there yet; never to a card.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

from workbench.assets import find_assets
from workbench.card.paths import LEDGER_FOLDER
from workbench.changes.plan import digest
from workbench.errors import CardwrightError, UsageError

DEVICES = ("larkspur", "fernway", "orrery")


def lay_out(device: str, folder: Path) -> Path:
    """Copy the practice card of an invented device into `folder`; returns the card's folder.

    Raises:
        UsageError: no such practice device.
        CardwrightError: the folder holds something already, or cannot be written.
    """
    if device not in DEVICES:
        raise UsageError(f"there is no practice device {device!r}; there are: {', '.join(DEVICES)}")
    target = folder / device
    if target.exists():
        raise CardwrightError(
            f"{target} is there already and was left as it is. Name another folder, or open it: "
            f"cardwright {target}",
            path=str(target),
        )
    try:
        shutil.copytree(find_assets("fixtures") / "cards" / device, target, symlinks=True)
    except (OSError, shutil.Error) as error:
        # copytree gathers what went wrong in a list; its other errors name their reason.
        why = getattr(error, "strerror", None) or "some of its files could not be copied"
        raise CardwrightError(
            f"the practice card could not be laid out: {why}. Name a folder that you may write to.",
            path=str(target),
        ) from error
    return target


def profile_path(device: str) -> Path:
    """The practice device's profile."""
    return find_assets("fixtures") / "profiles" / f"{device}.toml"


def read_device(device: str, volumes: dict[str, Path]) -> dict[str, Any]:
    """What the device would show: the answer of its own reader, a program that shares no code with us.

    Raises:
        CardwrightError: the reader failed.
    """
    reader = find_assets("fixtures") / "readers" / f"{device}.py"
    words = [sys.executable, str(reader), *(f"{role}={root}" for role, root in volumes.items()), "--json"]
    done = subprocess.run(words, capture_output=True, check=False, timeout=120)
    if done.returncode != 0:
        raise CardwrightError(
            f"the device reader of {device} failed: {done.stderr.decode(errors='replace')[-300:]}"
        )
    answer: dict[str, Any] = json.loads(done.stdout)
    return answer


def snapshot(folder: Path) -> dict[str, tuple[int, str]]:
    """Every name below a folder with its mode and the SHA-256 of its bytes; ledgers are left out."""
    found = {}
    for path in sorted(folder.rglob("*")):
        if LEDGER_FOLDER in path.relative_to(folder).parts:
            continue
        content = digest(path.read_bytes()) if path.is_file() else ""
        found[str(path.relative_to(folder))] = (path.stat().st_mode, content)
    return found

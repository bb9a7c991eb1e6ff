"""Where a profile that was surveyed or edited goes: the user's configuration folder, or onto the card."""

from __future__ import annotations

from pathlib import Path

from workbench.card.paths import VolumePath
from workbench.card.profiles import CARD_PROFILE
from workbench.card.tree import Tree
from workbench.changes.plan import Plan, Write, digest
from workbench.errors import CardError
from workbench.late_pattern import late_pattern

_NO_FILE_NAME = late_pattern(r"[^a-z0-9]+")


def file_stem(name: str) -> str:
    """A file's name for a device of that name: `My Device` becomes `my-device`."""
    return _NO_FILE_NAME.sub("-", name.lower()).strip("-")[:60] or "device"


def free_place(folder: Path, name: str) -> Path:
    """A place in a folder for the profile of that device where nothing lies yet."""
    stem, number = file_stem(name), 2
    place = folder / f"{stem}.toml"
    while place.exists() or place.is_symlink():
        place, number = folder / f"{stem}-{number}.toml", number + 1
    return place


def place_on_card(role: str) -> VolumePath:
    """Where a card carries its own profile."""
    return VolumePath(role, CARD_PROFILE)


def plan_on_card(tree: Tree, content: bytes, role: str) -> Plan:
    """The plan that puts a profile onto a card; one that lies there is replaced, and kept by the change.

    Raises:
        CardError: its place is taken by something that is no file.
    """
    at = place_on_card(role)
    there = tree.stat(at)
    if there is not None and there.kind != "file":
        raise CardError(
            f"{at} is there and is no file; nothing was changed. Move it away first.", path=str(at)
        )
    before = tree.read(at) if there is not None else None
    if before == content:
        return Plan("", (), notes=(f"{at} holds exactly this already.",))
    step = Write(at, content, digest(before) if before is not None else None)
    return Plan("Put the device profile onto the card", (step,))

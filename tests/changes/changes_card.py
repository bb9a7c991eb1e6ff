"""Small cards in folders, for the tests of changes."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume


def place(text: str) -> VolumePath:
    """`path` on the volume `data`, or `role:path`."""
    return VolumePath.parse(text) if ":" in text and not text.startswith("bad:") else VolumePath("data", text)


def make_volume(
    root: Path, files: Mapping[str, bytes | None], role: str = "data", *, read_only: bool = False
) -> Volume:
    """A folder that stands for a volume; None makes a folder."""
    root.mkdir(parents=True, exist_ok=True)
    for path, content in files.items():
        target = root / path
        if content is None:
            target.mkdir(parents=True, exist_ok=True)
        else:
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
    return Volume(role, root, label=role, read_only=read_only)


def make_card(root: Path, files: Mapping[str, bytes | None], *, read_only: bool = False) -> Card:
    """A card of one volume, `data`, without a profile."""
    return card_of(make_volume(root, files, read_only=read_only))


def card_of(*volumes: Volume) -> Card:
    """A card of these volumes."""
    return Card("test", {volume.role: volume for volume in volumes}, None, "folder")


def snapshot(root: Path) -> dict[str, bytes | None]:
    """Every file's bytes by path, None for folders; the ledger's folder is left out."""
    found: dict[str, bytes | None] = {}
    for folder, folders, files in os.walk(root):
        relative = os.path.relpath(folder, root)
        if relative == ".":
            folders[:] = [name for name in folders if name != ".cardwright"]
        for name in folders + files:
            path = os.path.normpath(os.path.join(relative, name))
            full = os.path.join(folder, name)
            if os.path.islink(full):
                found[path] = b"-> " + os.fsencode(os.readlink(full))
            else:
                found[path] = Path(full).read_bytes() if name in files else None
    return found


def snapshot_modes(root: Path) -> dict[str, int]:
    """Permission bits by path."""
    return {path: (root / path).lstat().st_mode & 0o7777 for path in snapshot(root)}

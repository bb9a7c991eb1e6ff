"""Small cards and plans of three to six steps that cover every kind of step, for the fault tests."""

from __future__ import annotations

import os
from pathlib import Path

from pack_scenes import PACK_SCENES, plan_pack_scene

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.changes.plan import Edit, MakeFolder, Move, Plan, Remove, Write, digest

LIST = b'{"Boats": "boats", "Kites": "kites"}\n'
SCRIPT = b"#!/bin/sh\nexec /mnt/store/shelf/Boats/run\n"

FILES: dict[str, dict[str, tuple[bytes, int]]] = {
    "data": {
        "list.json": (LIST, 0o644),
        "shelf/Boats/begin": (SCRIPT, 0o755),
        "shelf/Boats/run": (b"\x7fELF", 0o755),
        "shelf/Kites/begin": (b"#!/bin/sh\n", 0o755),
        "keep/Boats.sav": (b"saved" * 400, 0o600),
        "old/one/two": (b"to go", 0o644),
        "swap/a": (b"a", 0o644),
        "swap/b": (b"b", 0o640),
    },
    "system": {"hello.bmp": (b"BM" + b"s" * 9000, 0o644), "conf": (b"x=Boats\n", 0o600)},
}

SCENES = ("rename", "mixed", "swap", "two", "large", "undo", "keep", "keep-undo")
AFTER = {"undo": "rename", "keep-undo": "keep", "pack-remove": "pack-add"}
"""Scenes that take back the change of another."""
FREE = 106_000
"""In the scene `keep`: bytes free on each volume, too few to keep copies there."""


def lay_out(folder: Path) -> None:
    """The card, one folder for each volume."""
    for role, files in FILES.items():
        for path, (content, mode) in files.items():
            target = folder / role / path
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(content)
            target.chmod(mode)
    (folder / "data" / "link").symlink_to("swap/a")


def open_scene(folder: Path) -> Card:
    """That card."""
    volumes = {role: Volume(role, folder / role, label=role) for role in FILES if (folder / role).is_dir()}
    return Card("fault", volumes, None, "folder")


def plan_of(scene: str, card: Card) -> Plan:
    """The plan that is cut off in that scene."""
    if scene in PACK_SCENES:
        return plan_pack_scene(scene, card)
    if scene in AFTER:
        from workbench.changes.undo import plan_undo

        return plan_undo(card, 1)
    return {"rename": _rename, "mixed": _mixed, "swap": _swap, "two": _two, "large": _large, "keep": _keep}[
        scene
    ]()


def set_limits(scene: str) -> None:
    """In the scene `large` a thousand bytes are too many for the pack, so that files are copied whole; in the
    scene `keep` that too, and the card is too full for any copy."""
    if scene == "large":
        from workbench.changes import preflight

        preflight.PACKED_BYTES = 1000
    if scene == "keep":
        from workbench.changes import preflight
        from workbench.changes.space import Room

        preflight.PACKED_BYTES = 1000
        preflight.read_room = lambda _: Room(FREE, 4096)


def host_of(card: Path) -> Path:
    """The folder of this computer that a full card's copies go to."""
    return card.parent / "host"


def at(text: str) -> VolumePath:
    """`VOLUME:PATH`."""
    return VolumePath.parse(text)


def _edit(place: str, raw: bytes, old: bytes, new: bytes) -> Write:
    start = raw.index(old)
    content = raw.replace(old, new, 1)
    return Write(at(place), content, digest(raw), (Edit(start, start + len(old), new),))


def _rename() -> Plan:
    return Plan(
        "Rename Boats to Ships",
        (
            _edit("data:list.json", LIST, b"Boats", b"Ships"),
            _edit("data:shelf/Boats/begin", SCRIPT, b"Boats", b"Ships"),
            Move(at("data:keep/Boats.sav"), at("data:keep/Ships.sav")),
            Move(at("data:shelf/Boats"), at("data:shelf/Ships")),
        ),
    )


def _mixed() -> Plan:
    return Plan(
        "All kinds",
        (
            MakeFolder(at("data:new")),
            Write(at("data:new/file"), b"new" * 3000, None, mode=0o755),
            Remove(at("data:old")),
            Move(at("data:shelf/Kites"), at("data:new/Kites")),
            Write(at("data:new/Kites/begin"), b"#!/bin/sh\n:\n", digest(b"#!/bin/sh\n")),
            Remove(at("data:link")),
        ),
    )


def _swap() -> Plan:
    aside = at("data:.cardwright/aside/1")
    return Plan(
        "Swap",
        (
            Move(at("data:swap/a"), aside),
            Move(at("data:swap/b"), at("data:swap/a")),
            Move(aside, at("data:swap/b")),
            Move(at("data:swap"), at("data:shelf/swap")),
            Remove(at("data:keep/Boats.sav")),
        ),
    )


def _two() -> Plan:
    return Plan(
        "Two volumes",
        (
            _edit("data:list.json", LIST, b"Boats", b"Ships"),
            Write(at("system:hello.bmp"), b"BM" + b"t" * 12000, digest(b"BM" + b"s" * 9000)),
            Move(at("data:shelf/Boats"), at("data:shelf/Ships")),
            _edit("system:conf", b"x=Boats\n", b"Boats", b"Ships"),
        ),
    )


def _large() -> Plan:
    return Plan(
        "Files too large for the pack",
        (
            Write(at("system:hello.bmp"), b"BM" + b"t" * 12000, digest(b"BM" + b"s" * 9000)),
            Write(at("data:keep/Boats.sav"), b"other" * 500, digest(b"saved" * 400)),
            Move(at("data:keep/Boats.sav"), at("data:keep/Ships.sav")),
            Write(at("data:keep/new"), b"new" * 2000, None),
        ),
    )


def _keep() -> Plan:
    return Plan(
        "More than the card can keep",
        (
            Write(at("data:keep/Boats.sav"), b"other" * 500, digest(b"saved" * 400)),
            _edit("data:list.json", LIST, b"Boats", b"Ships"),
            Move(at("data:shelf/Boats"), at("data:shelf/Ships")),
            Remove(at("data:old")),
            Remove(at("data:swap/a")),
            Write(at("system:hello.bmp"), b"BM" + b"t" * 12000, digest(b"BM" + b"s" * 9000)),
        ),
    )


State = dict[str, tuple[int, bytes]]


def state_of(folder: Path) -> State:
    """Every path with its mode and its bytes (a link's target, nothing for a folder); ledgers left out."""
    found: State = {}
    for place, folders, files in os.walk(folder):
        if ".cardwright" in folders:
            folders.remove(".cardwright")
        for name in folders + files:
            path = Path(place) / name
            mode = path.lstat().st_mode
            if path.is_symlink():
                content = os.fsencode(os.readlink(path))
            else:
                content = b"" if path.is_dir() else path.read_bytes()
            found[str(path.relative_to(folder))] = (mode, content)
    return found

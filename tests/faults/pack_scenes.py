"""The card of the fault tests under a profile, with a pack to add and a backup to restore beside it."""

from __future__ import annotations

import shutil
from pathlib import Path

from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.plan import Plan
from workbench.values import replace

PACK_SCENES = ("pack-add", "pack-remove", "restore")

PROFILE = """
schema = 1
name = "Faults"
[panel]
width = 64
height = 64
[volumes.data]
identify = ["list.json"]
names = "fat"
[volumes.system]
identify = ["hello.bmp"]
names = "fat"
[[menus]]
id = "shelf"
root = "data:shelf"
entries = "folders"
order = "bytes"
companions = ["data:keep/{entry}.*"]
[[menus.references]]
file = "data:list.json"
format = "json"
at = "/{entry}"
[[menus.references]]
file = "data:shelf/*/begin"
format = "lines"
is = "{path}"
[[splash]]
moment = "start"
file = "system:hello.bmp"
kind = { container = "bmp", bits = 24 }
"""

PACK = {
    "data/shelf/Lamps/begin": b"#!/bin/sh\nexec run\n",
    "data/shelf/Lamps/deep/run": b"\x7fELF" + bytes(9000),
    "data/shelf/Kites/begin": b"#!/bin/sh\n: the pack's\n",
    "system/hello.bmp": b"BM" + b"p" * 12000,
}


def lay_out_beside(card: Path) -> None:
    """The profile, the pack and the backup, in the folder that holds the card."""
    room = card.parent
    (room / "faults.toml").write_text(PROFILE)
    for path, content in PACK.items():
        (room / "Lamps pack" / path).parent.mkdir(parents=True, exist_ok=True)
        (room / "Lamps pack" / path).write_bytes(content)
    other = room / "other-state"
    shutil.copytree(card, other, symlinks=True)
    (other / "data/list.json").write_bytes(b'{"Boats": "as it was", "Kites": "kites"}\n')
    (other / "data/keep/Kites.sav").write_bytes(b"an older game" * 300)
    (other / "data/keep/Boats.sav").write_bytes(b"another" * 500)
    (other / "data/keep/Boats.sav").chmod(0o640)
    (other / "system/hello.bmp").write_bytes(b"BM" + b"o" * 7000)
    from workbench.jobs.backup.taking import take_backup

    take_backup(DiskTree(_under_profile(other)), _profile(other), room / "backup.zip")


def _profile(card: Path) -> Profile:
    return read_profile(card.parent / "faults.toml")


def _under_profile(folder: Path) -> Card:
    from fault_scenes import open_scene

    return replace(open_scene(folder), profile=_profile(folder))


def plan_pack_scene(scene: str, card: Card) -> Plan:
    """The plan that is cut off in that scene."""
    folder = card.volume("data").root.parent
    profile, known = _profile(folder), _under_profile(folder)
    tree = DiskTree(known)
    if scene == "restore":
        from workbench.jobs.backup.backup_file import BackupFile
        from workbench.jobs.backup.restoring import plan_restore

        return plan_restore(tree, profile, BackupFile(folder.parent / "backup.zip"))
    from workbench.changes.brought import find_pack, read_traces

    traces = read_traces(known)
    if scene == "pack-add":
        from workbench.jobs.packs.adding import plan_add_pack
        from workbench.jobs.packs.looking import look

        found = look(tree, profile, folder.parent / "Lamps pack", traces=traces)
        decisions = {part.path: "theirs" for part in found.of("clash")}
        return plan_add_pack(tree, profile, found, decisions)
    from workbench.changes.taking_out import plan_taking_out
    from workbench.jobs.packs.removing import plan_remove_pack

    brought = find_pack(traces, "Lamps pack")
    return plan_remove_pack(tree, profile, plan_taking_out(known, brought, traces), brought.entries)

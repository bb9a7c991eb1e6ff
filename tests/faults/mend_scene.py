"""A small card on which much is wrong, and the plan that mends all of it.

Run as a program it is the process that the fault tests cut off: mend_scene.py CARD_FOLDER SCENE.
"""

from __future__ import annotations

import sys
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
    sys.path.insert(0, str(Path(__file__).resolve().parent))

import fault_scenes

from workbench.card.volumes import Card
from workbench.changes.plan import Plan

SCENE = "mend"

PROFILE = """
schema = 1
name = "Faults"
[panel]
width = 64
height = 64
[volumes.data]
identify = ["list.json"]
device_path = "/mnt/store"
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
file = "data:lately.txt"
format = "lines"
is = "{entry}"
[[menus.references]]
file = "data:shelf/*/begin"
format = "lines"
is = "{path}"
[[menus.references]]
file = "system:conf"
format = "keyvalue"
at = "/x"
is = "{entry}"
"""

BROKEN: dict[str, bytes] = {
    "data/list.json": b'{"Boats": "boats", "Kites": "kites"\n "aux": "reserved"}\n',
    "data/lately.txt": b"Boats\nGone\nKites\nGone Too\naux\n",
    "data/shelf/Kites/go.sh": b"#!/bin/sh\r\n: \r\n",
    "data/shelf/aux/go.sh": b": no first line\n",
    "data/keep/aux.sav": b"saved" * 300,
    "data/.DS_Store": b"litter" * 700,
    "data/shelf/Boats/Thumbs.db": b"t",
    "system/._hello.bmp": b"\x00\x05\x16\x07\x00\x02\x00\x00",
}


def lay_out(folder: Path) -> None:
    """The card of the other fault tests, broken."""
    _usual(folder)
    for path, content in BROKEN.items():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        (folder / path).write_bytes(content)
    (folder / "data/astray").symlink_to("nowhere")


_usual = fault_scenes.lay_out


def plan_everything(card: Card) -> Plan:
    """Mend all that is found."""
    from workbench.card.disk_tree import DiskTree
    from workbench.card.profile_reader import read_profile
    from workbench.jobs.check.checking import check_card
    from workbench.jobs.check.mending import plan_mends

    file = card.volume("data").root.parent.with_name("faults.toml")
    file.write_text(PROFILE, encoding="utf-8")
    profile = read_profile(file)
    tree = DiskTree(card)
    mending = plan_mends(tree, profile, check_card(tree, profile))
    assert not mending.left, mending.left
    return mending.plan


def main() -> int:
    from workbench.changes.apply import apply
    from workbench.errors import CardwrightError

    card = fault_scenes.open_scene(Path(sys.argv[1]))
    try:
        apply(card, plan_everything(card))
    except CardwrightError as error:
        print(error.kind, error.message, file=sys.stderr)
        return error.exit_code
    return 0


if __name__ == "__main__":
    sys.exit(main())

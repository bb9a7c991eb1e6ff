"""A card in conventions that no practice device has, and its profile: names count exactly, entries are files
with a row each in a JSON array, pictures are BMP, hidden names end in a tilde, a register is XML with texts.
"""

from __future__ import annotations

import json
from io import BytesIO
from pathlib import Path

from PIL import Image

PROFILE = """
schema = 1
name = "Odd"
[panel]
width = 320
height = 240
[volumes.chest]
identify = ["deep/", "conf/state.toml"]
device_path = "/opt/chest"
names = "exact"
[variables]
CHEST = "/opt/chest"

[[menus]]
id = "finds"
root = "chest:deep/{parent}"
entries = "files"
match = ["*.find", "*.lost"]
hide = ["zz-*"]
order = "natural"
prefix = { style = "numbers", separator = "_", shown = false, limit = 60 }
companions = ["chest:saved/{parent}/{stem}.*"]
[menus.label]
file = "chest:conf/{parent}.json"
format = "json"
at = "/items/{row}/says"
key = "/items/{row}/id"
is = "{stem}"
[[menus.references]]
file = "chest:conf/{parent}.json"
format = "json"
at = "/items/{row}/id"
is = "{stem}"
[[menus.references]]
file = "chest:conf/{parent}.json"
format = "json"
at = "/items/{row}/run"
is = "{path}"
[[menus.references]]
file = "chest:conf/{parent}.json"
format = "json"
at = "/items/{row}/next"
is = "{stem}"
[[menus.references]]
file = "chest:conf/state.toml"
format = "toml"
at = "/last"
is = "{path}"
[[menus.references]]
file = "chest:conf/state.toml"
format = "toml"
at = "/marks/{entry}"
names = "key"
[[menus.references]]
file = "chest:conf/loud.conf"
format = "keyvalue"
at = "/{stem}"
names = "key"
[[menus.references]]
file = "chest:conf/tour.xml"
format = "xml"
at = "/tour/0/stop/{n}/@to"
is = "{path}"
[[menus.references]]
file = "chest:conf/favs.txt"
format = "lines"
is = "{path}"
[[menus.pictures]]
kind = "cover"
path = "chest:pix/{parent}/{stem}-Big.BMP"

[[menus]]
id = "apps"
root = "chest:apps"
entries = "folders"
hide = ["*~"]
order = "letters-up"
prefix = { style = "letters", separator = "-", shown = true, limit = 30 }
[[menus.references]]
file = "chest:conf/apps.xml"
format = "xml"
at = "/apps/0/app/{n}/dir/0/#text"
is = "{entry}"
[[menus.references]]
file = "chest:conf/apps.xml"
format = "xml"
at = "/apps/0/app/{n}/go/0/#text"
is = "{path}"
[[menus.references]]
file = "chest:apps/*/go.sh"
format = "shell"
is = "{path}"
[[menus.references]]
file = "chest:conf/apps.ini"
format = "ini"
at = "/order/{entry}"
names = "key"
[[menus.pictures]]
kind = "icon"
path = "chest:apps/{entry}/icon.gif"
"""

FINDS = {
    "North": ("Lamp.find", "Lamp Post.find", "7 Keys.lost", "It's & co.find", "Café.find"),
    "South Wing": ("Lamp.find", "Ölkanne.find"),
}
APPS = ("Clock", "Radio & TV", "Notes 2")


def build(folder: Path) -> tuple[Path, Path]:
    """Lay the card out in a folder; returns it and its profile, which lies beside it."""
    card = folder / "odd"
    for group, names in FINDS.items():
        _build_finds(card, group, names)
    for name in APPS:
        _put(
            card / "apps" / name / "go.sh",
            f'#!/bin/sh\nexec run "$CHEST/apps/{name}/data.bin"\n'.encode(),
            0o755,
        )
        _put(card / "apps" / name / "data.bin", name.encode() * 30)
        _put(card / "apps" / name / "icon.gif", picture((24, 24), "GIF"))
    stops = "".join(f'<stop to="/opt/chest/deep/North/{name}"/>' for name in ("Lamp.find", "Café.find"))
    _put(card / "conf/tour.xml", f"<tour>{stops}</tour>".encode())
    _put(
        card / "conf/favs.txt",
        b"deep/North/Lamp.find\n/opt/chest/deep/South Wing/Lamp.find\n$CHEST/deep/North/7 Keys.lost",
    )
    _put(card / "conf/state.toml", STATE.encode())
    _put(card / "conf/loud.conf", b"# how loud\nLamp=3\n7 Keys = 4\n")
    rows = "".join(
        f"\t<app>\n\t\t<dir>{_text(name)}</dir>\n\t\t<go>./apps/{_text(name)}/go.sh</go>\n\t</app>\n"
        for name in APPS
    )
    _put(card / "conf/apps.xml", f"<apps>\n{rows}</apps>\n".encode())
    _put(card / "conf/apps.ini", b"[order]\r\nClock=1\r\nRadio & TV=2\r\nNotes 2=3\r\n\r\n[else]\r\nx=1")
    profile = folder / "odd.toml"
    profile.write_text(PROFILE, encoding="utf-8")
    return card, profile


STATE = """# kept
last = '/opt/chest/deep/North/Lamp.find'

[marks]
"Lamp.find" = 2   # twice
"7 Keys.lost" = 1
"""


def picture(size: tuple[int, int], container: str, colour: tuple[int, int, int] = (200, 30, 60)) -> bytes:
    """A picture of one colour."""
    buffer = BytesIO()
    Image.new("RGB", size, colour).save(buffer, container)
    return buffer.getvalue()


def _build_finds(card: Path, group: str, names: tuple[str, ...]) -> None:
    items = []
    for number, name in enumerate(names):
        stem = name.rpartition(".")[0]
        _put(card / "deep" / group / name, name.encode() * 20)
        _put(card / "saved" / group / f"{stem}.state", b"kept")
        if number % 2 == 0:
            _put(card / "pix" / group / f"{stem}-Big.BMP", picture((40, 30), "BMP", (number, 9, 9)))
        item = {"id": stem, "run": f"deep/{group}/{name}", "n": number}
        if number != 1:
            item["says"] = f"The {stem}"
        if number:
            item["next"] = names[number - 1].rpartition(".")[0]
        items.append(item)
    text = json.dumps({"kind": group, "items": items}, indent=3, ensure_ascii=group == "North")
    _put(card / "conf" / f"{group}.json", text.encode())
    (card / "deep" / group / "zz-Old.find").write_bytes(b"old")


def _put(place: Path, content: bytes, mode: int = 0o644) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content)
    place.chmod(mode)


def _text(name: str) -> str:
    return name.replace("&", "&amp;")

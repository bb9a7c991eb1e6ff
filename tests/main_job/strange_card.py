"""A card in a layout that no fixture has, and a profile for it written by hand."""

from __future__ import annotations

from pathlib import Path
from xml.sax.saxutils import escape, quoteattr

from PIL import Image

PROFILE = """
schema = 1
name = "Nobody's Device"

[panel]
width = 320
height = 240
rotate = 90

[volumes.chest]
identify = ["deep/er/still/", "web/map.xml"]
device_path = "/opt/chest"
names = "fat"

[[menus]]
id = "finds"
root = "chest:deep/er/still/{parent}"
entries = "folders"
hide = [".*", "zz-*"]
order = "natural"
prefix = { style = "numbers", separator = "_", shown = true, limit = 40 }
label = { file = "chest:conf/{parent}.ini", format = "ini", at = "/{entry}/Caption", otherwise = "name" }
companions = ["chest:saved/{parent}/{entry}.*"]

[[menus.references]]
file = "chest:conf/{parent}.ini"
format = "ini"
at = "/{entry}"
names = "key"

[[menus.references]]
file = "chest:conf/{parent}.ini"
format = "ini"
at = "/{section}/Next"
is = "{entry}"

[[menus.references]]
file = "chest:web/map.xml"
format = "xml"
at = "/map/0/spot/{n}/@where"
is = "{path}"

[[menus.references]]
file = "chest:web/map.xml"
format = "xml"
at = "/map/0/spot/{n}/title/0/#text"
is = "{entry}"

[[menus.references]]
file = "chest:lists/**/*.txt"
format = "lines"
is = "{path}"

[[menus.references]]
file = "chest:lists/{parent}.order"
format = "lines"
is = "{entry}"

[[menus.pictures]]
kind = "cover"
path = "chest:pix/{parent}/{entry}-big.PNG"

[[splash]]
moment = "start"
file = "chest:hello.PNG"
kind = { container = "png" }
"""

GROUPS = {
    "North": ("Find 2", "Find 10", "Lamp", "Lamp Post", "7_Key & Lock"),
    "South Wing": ("Lamp", "find 9", "Été d'or"),
}
"""Two groups that both hold a `Lamp`."""


def build(folder: Path) -> Path:
    """Lay the card out in a folder; returns the path of its profile, which lies beside it."""
    card = folder / "strange"
    for group, names in GROUPS.items():
        for name in names:
            _put(card / "deep/er/still" / group / name / "thing.dat", name.encode()[::-1])
            _put(card / "saved" / group / f"{name}.state", b"kept " + name.encode())
            cover = card / "pix" / group / f"{name}-big.PNG"
            cover.parent.mkdir(parents=True, exist_ok=True)
            Image.new("RGB", (8, 8), (len(name), 9, 9)).save(cover, "PNG")
        (card / "deep/er/still" / group / "zz-hidden").mkdir()
        _put(card / "conf" / f"{group}.ini", _ini(names).encode())
        _put(card / "lists" / f"{group}.order", "\n".join(names[::-1]).encode())
    _put(card / "web/map.xml", _map().encode("utf-8"))
    paths = [f"/opt/chest/deep/er/still/{group}/{name}" for group, names in GROUPS.items() for name in names]
    _put(
        card / "lists/by/hand/all.txt",
        "\r\n".join([*paths, "./deep/er/still/North/Lamp/thing.dat", ""]).encode(),
    )
    _put(card / "lists/by/near.txt", b"deep/er/still/South Wing/Lamp\n")
    Image.new("RGB", (240, 320), (1, 2, 3)).save(card / "hello.PNG", "PNG")
    profile = folder / "nobody.toml"
    profile.write_text(PROFILE)
    return profile


def _put(place: Path, content: bytes) -> None:
    place.parent.mkdir(parents=True, exist_ok=True)
    place.write_bytes(content)


def _ini(names: tuple[str, ...]) -> str:
    out = []
    for place, name in enumerate(names):
        out += [f"[{name}]", f"Caption : The {name}", f"Next={names[place - 1]}", ""]
    return "\r\n".join(out)


def _map() -> str:
    out = ["<?xml version='1.0'?>", "<map>"]
    for group, names in GROUPS.items():
        for name in names:
            where = quoteattr(f"deep/er/still/{group}/{name}/thing.dat")
            title = "" if name == "Lamp" else f"<title> {escape(name)} </title>"
            out.append(f"\t<spot where={where}>{title}</spot>")
    return "\n".join([*out, "</map>"])

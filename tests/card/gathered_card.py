"""A card on which every format names every entry, written and read with nothing of the workbench.

Writers and readers are the standard library's (`json`, `tomllib`, `configparser`, `xml.etree`, `shlex`,
`urllib.parse`), so that what a rename writes is judged from outside.
"""

from __future__ import annotations

import configparser
import json
import shlex
import subprocess
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from pathlib import Path
from urllib.parse import quote, unquote
from xml.sax.saxutils import escape, quoteattr

ROOT = "ab/cd/ef"
DEVICE = "/fs/one"

PROFILE = """
schema = 1
name = "Gathered"
[panel]
width = 64
height = 32
[volumes.one]
identify = ["ab/cd/"]
device_path = "/fs/one"
names = "@NAMES@"
[[menus]]
id = "things"
root = "one:ab/cd/ef"
entries = "folders"
companions = ["one:beside/{entry}.*"]
label = { file = "one:m/a.json", format = "json", at = "/items/{n}/says", key = "/items/{n}/id" }
[[menus.references]]
file = "one:m/a.json"
format = "json"
at = "/items/{n}/id"
is = "{entry}"
[[menus.references]]
file = "one:m/a.json"
format = "json"
at = "/items/{n}/run"
is = "{path}"
[[menus.references]]
file = "one:m/a.json"
format = "json"
at = "/by/{entry}"
[[menus.references]]
file = "one:m/b.toml"
format = "toml"
at = "/piece/{n}/id"
is = "{entry}"
[[menus.references]]
file = "one:m/b.toml"
format = "toml"
at = "/by/{entry}"
[[menus.references]]
file = "one:m/b.toml"
format = "toml"
at = "/piece/{n}/run"
is = "{path}"
[[menus.references]]
file = "one:m/c.ini"
format = "ini"
at = "/{section}/run"
is = "{path}"
[[menus.references]]
file = "one:m/d.conf"
format = "keyvalue"
at = "/{key}"
is = "{path}"
[[menus.references]]
file = "one:m/e.XML"
format = "xml"
at = "/map/0/spot/{n}/@id"
is = "{entry}"
[[menus.references]]
file = "one:m/e.XML"
format = "xml"
at = "/map/0/spot/{n}/name/0/#text"
is = "{entry}"
[[menus.references]]
file = "one:m/f.txt"
format = "lines"
is = "{entry}"
[[menus.references]]
file = "one:m/g.txt"
format = "lines"
is = "{path}"
[[menus.references]]
file = "one:m/h.sh"
format = "shell"
is = "{path}"
[[menus.pictures]]
kind = "icon"
path = "one:pix/small-{entry}_x.png"
"""

FORBIDDEN = set('"*/:<>?\\|')


def build(folder: Path, names: Sequence[str], rule: str = "fat") -> Path:
    """Lay the card out; returns the profile's place."""
    for place in ("m", "pix", "beside", ROOT):
        (folder / "card" / place).mkdir(parents=True, exist_ok=True)
    card = folder / "card"
    for number, name in enumerate(names):
        (card / ROOT / name).mkdir()
        (card / ROOT / name / "run").write_bytes(b"%d" % number)
        (card / f"pix/small-{name}_x.PNG").write_bytes(b"\x89PNG %d" % number)
        (card / f"beside/{name}.sav").write_bytes(b"s%d" % number)
    paths = [f"{DEVICE}/{ROOT}/{name}/run" for name in names]
    items = [
        {"id": n, "run": p, "says": f"No. {i}"} for i, (n, p) in enumerate(zip(names, paths, strict=True))
    ]
    _put(card / "m/a.json", json.dumps({"items": items, "by": {n: i for i, n in enumerate(names)}}, indent=3))
    pieces = "".join(
        f"[[piece]] # one\nid = {_toml(n)}\nrun={_toml(p)}\n" for n, p in zip(names, paths, strict=True)
    )
    _put(card / "m/b.toml", pieces + "[by]\n" + "".join(f"{_toml(n)} = {i}\n" for i, n in enumerate(names)))
    _put(card / "m/c.ini", "".join(f"[s{i}]\r\nrun = {p}\r\n" for i, p in enumerate(paths)))
    _put(card / "m/d.conf", "".join(f'k{i}="{p}"\n' for i, p in enumerate(paths)))
    spots = "".join(f"<spot id={quoteattr(n)}><name>{escape(n)}</name></spot>\n" for n in names)
    _put(card / "m/e.XML", f"<map>\n{spots}</map>\n")
    (card / "m/f.txt").write_bytes(b"\xef\xbb\xbf" + "\r\n".join(names).encode())
    _put(card / "m/g.txt", "".join(f"file://{quote(p)}\n" for p in paths))
    _put(card / "m/h.sh", "#!/bin/sh\n" + "".join(f"printf '%s\\n' {shlex.quote(p)} # x\n" for p in paths))
    profile = folder / "gathered.toml"
    profile.write_text(PROFILE.replace("@NAMES@", rule))
    return profile


def _put(place: Path, text: str) -> None:
    place.write_bytes(text.encode())


def _toml(text: str) -> str:
    """A basic string of TOML 1.0: JSON's, but for surrogates and U+007F."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")


def _unquoted(value: str) -> str:
    return value[1:-1] if value[:1] == value[-1:] and value[:1] in ("'", '"') else value


def read(card: Path) -> dict[str, list[str]]:
    """What each manifest names, in its order; paths are cut to the entry's part."""
    found: dict[str, list[str]] = {}
    a = json.loads((card / "m/a.json").read_bytes())
    found["json value"] = [item["id"] for item in a["items"]]
    found["json path"] = [_entry(item["run"]) for item in a["items"]]
    found["json key"] = list(a["by"])
    b = tomllib.loads((card / "m/b.toml").read_bytes().decode())
    found["toml value"] = [piece["id"] for piece in b["piece"]]
    found["toml path"] = [_entry(piece["run"]) for piece in b["piece"]]
    found["toml key"] = list(b["by"])
    ini = configparser.ConfigParser(interpolation=None)
    ini.read_string((card / "m/c.ini").read_bytes().decode())
    found["ini path"] = [_entry(ini[section]["run"]) for section in ini.sections()]
    conf = (card / "m/d.conf").read_bytes().decode().split("\n")[:-1]
    found["conf path"] = [_entry(_unquoted(line.partition("=")[2])) for line in conf]
    root = ET.fromstring((card / "m/e.XML").read_bytes())
    found["xml attribute"] = [spot.get("id", "") for spot in root]
    found["xml text"] = [spot[0].text or "" for spot in root]
    found["lines"] = (card / "m/f.txt").read_bytes().decode("utf-8-sig").split("\r\n")
    urls = (card / "m/g.txt").read_bytes().decode().splitlines()
    found["address"] = [_entry(unquote(url.removeprefix("file://"))) for url in urls]
    said = subprocess.run(["sh", card / "m/h.sh"], capture_output=True, check=True).stdout.decode()
    found["shell"] = [_entry(path) for path in said.split("\n")[:-1]]
    return found


def _entry(path: str) -> str:
    rest = path.removeprefix(f"{DEVICE}/{ROOT}/").removesuffix("/run")
    assert len(rest) == len(path) - len(f"{DEVICE}/{ROOT}//run"), path
    return rest

"""Lays out an invented card of one menu with 500 entries and 5,000 references, seeded, and reads it plainly.

`python many_entries.py FOLDER` writes the card, its profile beside it as FOLDER.toml and a shuffled order as
FOLDER.order. `python many_entries.py --parse FOLDER` reads its manifests and parses each once, strictly.
"""

from __future__ import annotations

import json
import random
import sys
import tomllib
from pathlib import Path
from xml.parsers import expat
from xml.sax.saxutils import quoteattr

ENTRIES = 500

PROFILE = """\
schema = 1
name = "Longshelf"
[panel]
width = 640
height = 480
[volumes.data]
identify = ["shelf/", "lists/"]
device_path = "/mnt/long"
[[menus]]
id = "shelf"
root = "data:shelf"
entries = "folders"
order = "bytes"
[[menus.references]]
file = "data:lists/register.json"
format = "json"
at = "/things/{entry}"
[[menus.references]]
file = "data:lists/register.json"
format = "json"
at = "/things/{key}/begin"
is = "{path}"
[[menus.references]]
file = "data:lists/register.json"
format = "json"
at = "/pinned/{place}"
is = "{entry}"
[[menus.references]]
file = "data:lists/seen.toml"
format = "toml"
at = "/seen/{row}/dir"
is = "{entry}"
[[menus.references]]
file = "data:lists/seen.toml"
format = "toml"
at = "/seen/{row}/opens"
is = "{path}"
[[menus.references]]
file = "data:lists/seen.toml"
format = "toml"
at = "/places/{entry}"
names = "key"
[[menus.references]]
file = "data:lists/catalogue.xml"
format = "xml"
at = "/catalogue/0/body/{row}/@dir"
is = "{entry}"
[[menus.references]]
file = "data:lists/catalogue.xml"
format = "xml"
at = "/catalogue/0/body/{row}/@start"
is = "{path}"
[[menus.references]]
file = "data:lists/catalogue.xml"
format = "xml"
at = "/catalogue/0/body/{row}/near/0/#text"
is = "{entry}"
[[menus.pictures]]
kind = "icon"
path = "data:pictures/{entry}.png"
"""

_WORDS = ["amber", "birch", "cloud", "delta", "ember", "fjord", "grove", "heath", "islet", "jetty", "knoll"]


def lay_out(root: Path, seed: int = 5) -> Path:
    """Write the card, its profile and a shuffled order; returns the profile."""
    picks = random.Random(seed)
    names: dict[str, None] = {}
    while len(names) < ENTRIES:
        names[f"{picks.choice(_WORDS).title()} {picks.choice(_WORDS)} {picks.randint(1, 999)}"] = None
    menu = list(names)
    for name in menu:
        (root / "shelf" / name).mkdir(parents=True)
        (root / "shelf" / name / "tale.txt").write_text("once\n")
    (root / "lists").mkdir()
    (root / "pictures").mkdir()
    for name in menu:
        (root / "pictures" / f"{name}.png").write_bytes(b"\x89PNG\r\n\x1a\n" + picks.randbytes(200))
    (root / "lists" / "register.json").write_text(_json(menu, picks), encoding="utf-8")
    (root / "lists" / "seen.toml").write_text(_toml(menu, picks), encoding="utf-8")
    (root / "lists" / "catalogue.xml").write_text(_xml(menu, picks), encoding="utf-8")
    profile = root.with_suffix(".toml")
    profile.write_text(PROFILE, encoding="utf-8")
    picks.shuffle(menu)
    root.with_suffix(".order").write_text("".join(f"{name}\n" for name in menu), encoding="utf-8")
    return profile


def _json(menu: list[str], picks: random.Random) -> str:
    things = {name: {"begin": f"/mnt/long/shelf/{name}/tale.txt", "turns": n} for n, name in enumerate(menu)}
    return json.dumps({"things": things, "pinned": picks.sample(menu, ENTRIES)}, indent=1)


def _toml(menu: list[str], picks: random.Random) -> str:
    rows = [
        f'[[seen]]\ndir = "{name}"\nopens = "shelf/{name}/tale.txt"\nturns = {n}\n'
        for n, name in enumerate(picks.sample(menu, ENTRIES))
    ]
    return "\n".join(rows) + "\n[places]\n" + "".join(f'"{name}" = {n}\n' for n, name in enumerate(menu))


def _xml(menu: list[str], picks: random.Random) -> str:
    rows = [
        f"  <body dir={quoteattr(name)} start={quoteattr(f'shelf/{name}/tale.txt')}>"
        f"<near>{picks.choice(menu)}</near></body>\n"
        for name in menu
    ]
    return "<catalogue>\n" + "".join(rows) + "</catalogue>\n"


def parse(root: Path) -> None:
    """Every manifest read and parsed once, strictly; nothing else."""
    json.loads((root / "lists" / "register.json").read_bytes())
    tomllib.loads((root / "lists" / "seen.toml").read_text(encoding="utf-8"))
    expat.ParserCreate().Parse((root / "lists" / "catalogue.xml").read_bytes(), True)


if __name__ == "__main__":
    if sys.argv[1] == "--parse":
        parse(Path(sys.argv[2]))
    else:
        lay_out(Path(sys.argv[1]))

"""Lays out a large invented card, seeded: 40 entries, 12,000 files, 400 manifests of 6 MB in all.

The other 11,600 files are small media, half with a picture's suffix and half without any.
`python synthetic.py FOLDER [NAMING]` writes the card, and its profile beside it as FOLDER.toml.
"""

from __future__ import annotations

import json
import random
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

ENTRIES = 40
MANIFESTS = 400
MEDIA = 11_600
MANIFEST_BYTES = 15_000
NAME = "Lantern Walk"
"""The entry that is renamed."""

PROFILE = """\
schema = 1
name = "Broadside"
[panel]
width = 640
height = 480
[volumes.data]
identify = ["shelf/", "lists/"]
device_path = "/mnt/wide"
[[menus]]
id = "shelf"
root = "data:shelf"
entries = "folders"
[[menus.references]]
file = "data:lists/**/*.json"
format = "json"
at = "/rows/{row}/opens"
is = "{path}"
[[menus.references]]
file = "data:lists/**/*.json"
format = "json"
at = "/pinned/{entry}"
[[menus.references]]
file = "data:lists/**/*.ini"
format = "ini"
at = "/{section}/opens"
is = "{path}"
[[menus.references]]
file = "data:lists/**/*.txt"
format = "lines"
is = "{path}"
[[menus.pictures]]
kind = "icon"
path = "data:pictures/{entry}.png"
"""

_WORDS = ["amber", "birch", "cloud", "delta", "ember", "fjord", "grove", "heath", "islet", "jetty", "knoll"]


@dataclass(frozen=True, slots=True)
class Wide:
    """What was laid out."""

    root: Path
    profile: Path
    name: str
    naming: int
    """Manifests that name the entry."""


def lay_out(root: Path, naming: int = 40, seed: int = 11) -> Wide:
    """Write the card and its profile; `naming` of the 400 manifests name the entry `NAME`."""
    picks = random.Random(seed)
    names = [NAME, *_invent(picks, ENTRIES - 1)]
    for name in names:
        (root / "shelf" / name).mkdir(parents=True)
    _write_media(root, names, picks)
    chosen = set(picks.sample(range(MANIFESTS), naming))
    for number in range(MANIFESTS):
        folder = root / "lists" / f"part {number % 20:02d}"
        folder.mkdir(parents=True, exist_ok=True)
        suffix, write = _KINDS[number % len(_KINDS)]
        rows = _rows(names[1:], picks)
        if number in chosen:
            rows[len(rows) // 2] = NAME
        (folder / f"list{number:03d}.{suffix}").write_text(write(rows), encoding="utf-8")
    profile = root.with_suffix(".toml")
    profile.write_text(PROFILE, encoding="utf-8")
    return Wide(root, profile, NAME, naming)


def _invent(picks: random.Random, count: int) -> Iterator[str]:
    seen: set[str] = set()
    while len(seen) < count:
        name = f"{picks.choice(_WORDS).title()} {picks.choice(_WORDS)} {picks.randint(1, 99)}"
        if name not in seen:
            seen.add(name)
            yield name


def _rows(names: list[str], picks: random.Random) -> list[str]:
    """As many names as fill one manifest."""
    return [picks.choice(names) for _ in range(MANIFEST_BYTES // 75)]


def _write_media(root: Path, names: list[str], picks: random.Random) -> None:
    (root / "pictures").mkdir()
    for name in names:
        (root / "pictures" / f"{name}.png").write_bytes(b"\x89PNG\r\n\x1a\n" + picks.randbytes(300))
    for number in range(MEDIA - len(names)):
        folder = root / "shelf" / names[number % len(names)] / f"reel {number % 7}"
        folder.mkdir(exist_ok=True)
        suffix = ".png" if number % 2 else ""
        (folder / f"{number:05d}{suffix}").write_bytes(b"\0\1" + picks.randbytes(picks.randint(200, 1200)))


def _json(rows: list[str]) -> str:
    filled = [{"opens": f"/mnt/wide/shelf/{row}/reel 0/00001", "turns": n} for n, row in enumerate(rows)]
    return json.dumps({"rows": filled, "pinned": {rows[0]: 1, rows[len(rows) // 2]: 2}}, indent=1)


def _ini(rows: list[str]) -> str:
    parts = [
        f"[row {n}]\nopens = shelf/{row}/reel 1/00002\nturns={n}\nmood = quiet" for n, row in enumerate(rows)
    ]
    return "; kept by hand\n" + "\n".join(parts) + "\n"


def _lines(rows: list[str]) -> str:
    return "".join(
        f"../../shelf/{row}/reel 2/00003.and.a.long.tail.of.a.name.{n}\n" for n, row in enumerate(rows)
    )


_KINDS = (("json", _json), ("json", _json), ("ini", _ini), ("txt", _lines))

if __name__ == "__main__":
    lay_out(Path(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 40)

"""Cards to animate on: the practice devices and layouts that no fixture has, each with a reader of its own.

`Motion` opens one and plans on it with the stand-in for the renderer.
"""

from __future__ import annotations

import configparser
import json
import struct
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import fake_render
import practice_cards

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.plan import Plan
from workbench.changes.undo import plan_undo
from workbench.jobs.animate import AnimateWish, PlannedAnimation, plan_animate


class Motion:
    """One card, its profile, and clips beside it."""

    def __init__(self, folder: Path, card: Path, profile: Path) -> None:
        self.folder = folder
        self.root = card
        self.profile_path = profile
        self.profile = read_profile(profile)
        self.render = fake_render.FakeRender(folder / "renders")
        self.clips = 0

    @property
    def card(self) -> Card:
        return open_card(str(self.root), (self.profile,), self.profile)

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def clip(self, **facts: Any) -> Path:
        self.clips += 1
        return fake_render.write_clip(self.folder, f"clip{self.clips}.fake", **facts)

    def plan(self, source: Path, name: str = "dawn", **wishes: Any) -> PlannedAnimation:
        unit = wishes.pop("unit", 4096)
        wish = AnimateWish(source, name, **wishes)
        return plan_animate(
            self.tree, self.profile, wish, unit=unit, render=self.render, probe=fake_render.probe
        )

    def animate(self, source: Path, name: str = "dawn", **wishes: Any) -> PlannedAnimation:
        planned = self.plan(source, name, **wishes)
        assert planned.plan.conflicts == ()
        self.apply(planned.plan)
        return planned

    def apply(self, plan: Plan) -> int:
        return apply(self.card, plan).number

    def undo(self, number: int) -> None:
        apply(self.card, plan_undo(self.card, number))


def practice_motion(device: str, folder: Path) -> Motion:
    """A practice card in a folder."""
    card = practice_cards.lay_out(device, folder / "card")
    return Motion(folder, card, practice_cards.profile_path(device))


# --- layouts of no fixture --------------------------------------------------------------------------------

HEAD = """\
schema = 1
name = "Nobody's"
[panel]
width = 64
height = 48
rotate = {rotate}
[volumes.main]
identify = ["shows/"]
device_path = "/m"
[[menus]]
id = "shows"
root = "main:shows"
label = {{ file = "main:shows.json", format = "json", at = "/{{entry}}/title", otherwise = "name" }}
[[menus.references]]
file = "main:shows.json"
format = "json"
at = "/{{entry}}"
[[menus.references]]
file = "main:shows/*/go"
format = "shell"
is = "{{path}}"
[[menus.pictures]]
kind = "art"
path = "main:shows/{{entry}}/cover.png"
size = [16, 12]
"""

LAYOUTS: dict[str, tuple[int, str]] = {
    # JPEG frames in a folder of their own, four digits from 1; INI settings with `last` and a rate; a script.
    "leaves": (
        90,
        """
[animation]
folder = "main:moving/{name}"
frames = { pattern = "leaves/{n}.jpg", first = 1, pad = 4 }
settings = { file = "main:moving/{name}/how.ini", format = "ini", last = "/run/last", rate = "/run/rate", \
loops = "/run/times", author = "/run/by" }
sound = { file = "main:moving/{name}/s.wav", rate = 22050, channels = 1 }
chosen = { file = "main:start.conf", format = "keyvalue", at = "/plays", is = "moving/{name}", none = "-" }
label = { file = "main:moving/titles.json", format = "json", at = "/{name}/says" }
art = { file = "main:moving/{name}/face.png", size = [32, 24] }
script = { file = "main:moving/{name}/go", template = "#!/bin/sh\\nTITLE={label}\\nshow '{author}' \
\\"$TITLE\\" {count} {last}\\n" }
draw_ms = 2.5
""",
    ),
    # No settings, no sound, no choice: numbered BMP pictures, each for a time that the device knows.
    "bare": (
        0,
        """
[animation]
folder = "main:film"
frames = { pattern = "f{n}.bmp", first = 0, pad = 3 }
delay_ms = 50
""",
    ),
    # One JSON file for all, microseconds; an animation is an entry of a menu too, with script and art.
    "listed": (
        270,
        """
[animation]
folder = "main:shows/{name}"
frames = { pattern = "{name}-{n}.png", first = 10, pad = 0 }
settings = { file = "main:all.json", format = "json", count = "/{name}/frames", \
delay = "/{name}/wait", unit = "us" }
sound = { file = "main:shows/{name}/tone.wav", rate = 16000, channels = 2 }
chosen = { file = "main:start.xml", format = "xml", at = "/start/0/show/0/@name", is = "{name}" }
entry = { menu = "shows" }
script = { file = "main:shows/{name}/go" }
""",
    ),
}  # fmt: skip


def lay_out(layout: str, folder: Path) -> Motion:
    """A card in one of these layouts, with one show that is no animation."""
    rotate, table = LAYOUTS[layout]
    card = folder / "card"
    main = card / "main"
    (main / "shows/Opening").mkdir(parents=True)
    (main / "shows/Opening/go").write_text("#!/bin/sh\nexec show /m/shows/Opening\n")
    (main / "shows/Opening/go").chmod(0o755)
    (main / "shows.json").write_text('{\n  "Opening": {"title": "The Opening"}\n}\n')
    (main / "start.conf").write_text("# at start\nplays = -\n")
    (main / "start.xml").write_text('<start><show name="Opening"/></start>\n')
    profile = folder / f"{layout}.toml"
    profile.write_text(HEAD.format(rotate=rotate) + table)
    return Motion(folder, card, profile)


READERS: dict[str, Callable[[Path, str], dict[str, Any]]] = {}


def read_layout(layout: str, motion: Motion, name: str) -> dict[str, Any]:
    """What such a device would show of an animation, by its own code."""
    return READERS[layout](motion.root / "main", name)


def _reader(layout: str) -> Callable[[Callable[[Path, str], dict[str, Any]]], Any]:
    def keep(read: Callable[[Path, str], dict[str, Any]]) -> Any:
        READERS[layout] = read
        return read

    return keep


@_reader("leaves")
def _read_leaves(main: Path, name: str) -> dict[str, Any]:
    how = configparser.ConfigParser(interpolation=None)
    how.read(main / f"moving/{name}/how.ini", encoding="utf-8")
    run, step = how["run"], 1000 / how.getfloat("run", "rate") + 2.5
    last = run.getint("last")
    home = main / f"moving/{name}"
    return {
        "frames": [jpeg_size(home / f"leaves/{number:04}.jpg") for number in range(1, last + 1)],
        "length_ms": last * step,
        "step_ms": step,
        "sound_ms": wav_ms(home / "s.wav"),
        "author": run.get("by"),
        "loops": run.get("times"),
        "plays": (main / "start.conf").read_text().splitlines()[1],
        "label": json.loads((main / "moving/titles.json").read_text())[name]["says"],
    }


@_reader("bare")
def _read_bare(main: Path, _name: str) -> dict[str, Any]:
    frames = sorted((main / "film").glob("f[0-9][0-9][0-9].bmp"))
    return {
        "frames": [struct.unpack_from("<ii", one.read_bytes(), 18) for one in frames],
        "length_ms": 50.0 * len(frames),
        "step_ms": 50.0,
        "sound_ms": None,
    }


@_reader("listed")
def _read_listed(main: Path, name: str) -> dict[str, Any]:
    own = json.loads((main / "all.json").read_text())[name]
    home, step = main / f"shows/{name}", own["wait"] / 1000
    frames = [home / f"{name}-{number}.png" for number in range(10, 10 + own["frames"])]
    return {
        "frames": [struct.unpack_from(">II", one.read_bytes(), 16) for one in frames],
        "length_ms": own["frames"] * step,
        "step_ms": step,
        "sound_ms": wav_ms(home / "tone.wav"),
        "plays": (main / "start.xml").read_text(),
        "registered": json.loads((main / "shows.json").read_text())[name],
        "cover": struct.unpack_from(">II", (home / "cover.png").read_bytes(), 16),
    }


def wav_ms(path: Path) -> float:
    import wave

    with wave.open(str(path)) as sound:
        return 1000 * sound.getnframes() / sound.getframerate()


def jpeg_size(path: Path) -> tuple[int, int]:
    """Width and height by the frame header (ITU-T T.81, B.2.2)."""
    raw, at = path.read_bytes(), 2
    while raw[at + 1] not in (0xC0, 0xC1, 0xC2):
        at += 2 + int.from_bytes(raw[at + 2 : at + 4], "big")
    height, width = struct.unpack_from(">HH", raw, at + 5)
    return width, height


def milliseconds(text: str) -> Fraction:
    """A delay as it is wished."""
    return Fraction(text) / 1000

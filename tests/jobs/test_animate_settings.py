"""Settings in every format: made, read back by the format's reference parser, and changed in place."""

from __future__ import annotations

import configparser
import json
import shutil
import subprocess
import tomllib
import xml.etree.ElementTree as ET
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from motion_cards import HEAD, Motion, lay_out

from workbench.errors import ManifestError

AUTHOR = 'Zoé "Z" O\'Neil; $(id) `x` # [a] = é雨 <&>'


def motion_with(folder: Path, settings: str, rest: str = "") -> Motion:
    """A card whose animations have these settings."""
    base = lay_out("bare", folder)
    table = f'[animation]\nfolder = "main:a/{{name}}"\nframes = {{ pattern = "{{n}}.png" }}\n{rest}'
    base.profile_path.write_text(HEAD.format(rotate=0) + table + f"[animation.settings]\n{settings}")
    return Motion(folder, base.root, base.profile_path)


def _ini(raw: str) -> Any:
    parser = configparser.ConfigParser(interpolation=None, delimiters=("=",))
    parser.read_string(raw)
    return dict(parser["run"])


def _keyvalue(raw: str) -> Any:
    return dict(line.split("=", 1) for line in raw.splitlines() if "=" in line)


def _xml(raw: str) -> Any:
    return ET.fromstring(raw).attrib


XML = 'template = """<play count="" delay="1" author=""/>"""\n'
MINE = {"json": "", "xml": "<!-- mine -->\n"}
"""A remark of the owner's, where the format has any; `#` elsewhere."""


def _shell(raw: str) -> Any:
    shell = shutil.which("sh")
    if shell is None:
        pytest.skip("no sh on this computer")
    told = raw + '\nprintf \'%s\\0\' "$count" "$delay" "$author"\n'
    said = subprocess.check_output([shell, "-c", told], timeout=10).decode().split("\0")
    return dict(zip(("count", "delay", "author"), said, strict=False))


FORMATS: list[tuple[str, str, str, Callable[[str], Any]]] = [
    ("json", "/run", "", lambda raw: json.loads(raw)["run"]),
    ("toml", "/run", "", lambda raw: tomllib.loads(raw)["run"]),
    ("ini", "/run", "", _ini),
    ("keyvalue", "", "", _keyvalue),
    ("shell", "", "", _shell),
    ("xml", "/play/0", XML, _xml),
]


@pytest.mark.parametrize(("format", "above", "more", "parse"), FORMATS, ids=[one[0] for one in FORMATS])
def test_settings_are_made_and_changed_in_every_format(
    format: str, above: str, more: str, parse: Callable[[str], Any], tmp_path: Path
) -> None:
    """Numbers where the format knows them, the author as typed; what else is there stays."""
    at = "@" if format == "xml" else ""
    keys = "".join(f'{key} = "{above}/{at}{key}"\n' for key in ("count", "delay", "author"))
    motion = motion_with(tmp_path, f'file = "main:a/{{name}}/set"\nformat = "{format}"\n{keys}{more}')
    motion.animate(motion.clip(duration=0.4), delay=Fraction(40, 1000), author=AUTHOR)
    path = motion.root / "main/a/dawn/set"
    found = parse(path.read_text())
    assert (int(found["count"]), int(found["delay"]), found["author"]) == (10, 40, AUTHOR)
    if format in ("json", "toml"):
        assert type(found["count"]) is int
    path.write_text(path.read_text() + MINE.get(format, "# mine\n"))
    motion.animate(motion.folder / "clip1.fake", delay=Fraction(50, 1000))
    found = parse(path.read_text())
    assert (int(found["count"]), int(found["delay"]), found["author"]) == (8, 50, AUTHOR)
    assert format == "json" or "mine" in path.read_text()


def test_a_number_that_is_a_text_stays_one(tmp_path: Path) -> None:
    """The device may want it so: the sort of value that is there is kept, and equal ones are not touched."""
    keys = 'count = "/n"\nrate = "/r"\nunit = "fps"\n'
    motion = motion_with(tmp_path, f'file = "main:a/{{name}}/set"\nformat = "json"\n{keys}')
    path = motion.root / "main/a/dawn/set"
    path.parent.mkdir(parents=True)
    path.write_text('{"n": "007", "r": "25.0"}')
    motion.animate(motion.clip(duration=0.28), delay=Fraction(1, 25))
    assert path.read_text() == '{"n": "007", "r": "25.0"}'
    motion.animate(motion.clip(duration=0.4), delay=Fraction(1, 25))
    assert path.read_text() == '{"n": "10", "r": "25.0"}'


def test_xml_cannot_be_made_from_nothing(tmp_path: Path) -> None:
    """It is said before anything is rendered."""
    motion = motion_with(tmp_path, 'file = "main:a/{name}/set"\nformat = "xml"\ncount = "/play/0/@n"\n')
    with pytest.raises(ManifestError, match="no template"):
        motion.plan(motion.clip())
    assert motion.render.orders == []


def test_a_script_is_made_after_another_animations(tmp_path: Path) -> None:
    """Its own name, label and author are replaced, whatever their quoting; what else it says stays."""
    rest = 'script = { file = "main:a/{name}/go" }\n'
    keys = 'file = "main:a/{name}/set"\nformat = "keyvalue"\ncount = "/n"\ndelay = "/ms"\nauthor = "/by"\n'
    motion = motion_with(tmp_path, keys, rest)
    motion.animate(motion.clip(duration=0.1), "old one", author="Old Author")
    go = motion.root / "main/a/old one/go"
    go.write_text("#!/bin/sh\n# old one\nplay \"/m/a/old one/\" old\\ one 'Old Author' older 40\n")
    planned = motion.animate(motion.clip(duration=0.1), "new's", author='N "A"')
    made = (motion.root / "main/a/new's/go").read_text()
    assert made.splitlines()[2] == "play \"/m/a/new's/\" new\\'s 'N \"A\"' older 40"
    assert any("made after main:a/old one/go" in note for note in planned.plan.notes)

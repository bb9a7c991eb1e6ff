"""The device readers: content with pristine cards, and not with broken ones."""

from __future__ import annotations

import os
import random
import struct
from collections.abc import Callable
from functools import cache
from pathlib import Path

import pytest
from practice_cards import DEVICES, lay_out, read_device

BREAKAGES = {
    "larkspur": [
        ("data/shelf/Boats", "data/shelf/Ships"),
        ("data/shelf/Café Lanterns", "data/shelf/Cafe Lanterns"),
        ("data/house/small/Moss_s.png", "data/house/small/Mosses_s.png"),
        ("data/house/wide/Boats 2.PNG", "data/house/wide/Boats 3.PNG"),
        ("data/keep/Boats.save", "data/keep/Ships.save"),
        ("data/shelf/Boats/begin", "data/shelf/Boats/start"),
        ("data/shelf/Boats/tale.txt", "data/shelf/Boats/story.txt"),
        ("system/greet/hello.bmp", "system/greet/hi.bmp"),
        ("data/house/motion/river/3.png", "data/house/motion/river/9.png"),
    ],
    "fernway": [
        ("main/parlour/Puzzles", "main/parlour/Riddles"),
        ("main/parlour/Puzzles/Boats.game", "main/parlour/Puzzles/Ships.game"),
        ("main/parlour/Tunes/Slow Reel.tune", "main/parlour/Tunes/Slower Reel.tune"),
        ("main/memory/Puzzles/Boats.2.save", "main/memory/Puzzles/Ships.2.save"),
        ("main/faces/Puzzles", "main/faces/Riddles"),
        ("main/manuals/50% Luck.txt", "main/manuals/51% Luck.txt"),
        ("main/engines/play", "main/engines/player"),
        ("main/hello/last.bmp.gz", "main/hello/least.bmp.gz"),
    ],
    "orrery": [
        ("disk/sky/Moon", "disk/sky/Lune"),
        ("disk/sky/Étoile filante", "disk/sky/Etoile filante"),
        ("disk/sky/HoneyMoon/part one.txt", "disk/sky/HoneyMoon/part two.txt"),
        ("disk/plates/Moon 2.png", "disk/plates/Moon 3.png"),
        ("disk/logs/Twin.A.log", "disk/logs/Twin.B.log"),
        ("disk/curtain/rest.bgra", "disk/curtain/pause.bgra"),
        ("disk/motion/comet/plate004.png", "disk/motion/comet/plate4.png"),
    ],
}


@pytest.fixture(scope="module")
def lent_card(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """A card shared by this module's tests; each gives it back as it was."""
    return cache(lambda name: lay_out(name, tmp_path_factory.mktemp("lent") / name))


@pytest.mark.parametrize("name", DEVICES)
def test_pristine_card_has_no_problem(name, practice_card, read_device):
    """On the card as it came, the device finds everything."""
    assert read_device(name, practice_card(name))["problems"] == []


@pytest.mark.parametrize("name", DEVICES)
def test_card_is_rich(name, practice_card, read_device):
    """At least 24 entries in the largest menu, each with a command that opens a file, some with saves."""
    seen = read_device(name, practice_card(name))
    entries = max((menu["entries"] for menu in seen["menus"]), key=len)
    assert len(entries) >= 24
    assert all(entry["command"]["runs"][0]["files"] for entry in entries)
    assert sum(bool(entry["saves"]) for entry in entries) >= 8
    assert all(entry["icon"]["sha256"] for entry in entries)
    assert len({entry["icon"]["sha256"] for entry in entries}) == len(entries)


@pytest.mark.parametrize(
    ("name", "old", "new"), [(name, *pair) for name, pairs in BREAKAGES.items() for pair in pairs]
)
def test_rename_by_hand_is_noticed(name, old, new, lent_card, read_device):
    """Something renamed without what names it is a problem."""
    card = lent_card(name)
    os.rename(card / old, card / new)
    problems = read_device(name, card)["problems"]
    os.rename(card / new, card / old)
    assert problems


@pytest.mark.parametrize(
    ("name", "file", "old", "new"),
    [
        ("larkspur", "data/house/lately.txt", b"SpeedBoats", b"Speedboat"),
        ("larkspur", "data/house/register.json", b'"river"', b'"brook"'),
        ("larkspur", "data/house/register.json", b'["Boats", "Moss"]', b'["Boats", "Moth"]'),
        ("larkspur", "data/shelf/Tide & Time/begin", b"\\&\\ Time", b"and\\ Time"),
        ("larkspur", "data/shelf/Sound of 3 Rivers/begin", b'cd "$STORE/', b'cd "$STORES/'),
        ("larkspur", "data/shelf/Moss and Fern/begin", b"HERE=", b"THERE="),
        ("larkspur", "system/start/10-shelf.sh", b"The Old Mill", b"The New Mill"),
        ("larkspur", "data/house/tongue/fr/words.json", b'"Boatswain"', b'"Boatsman"'),
        ("fernway", "main/memory/favourites.list", b"bell [V2]", b"bell [V3]"),
        ("fernway", "main/memory/recents.list", b"Knots 10.game\r", b"Knots 11.game\r"),
        ("fernway", "main/memory/tunes.m3u", b"Kettle%20%26%20Drum", b"Kettle%20+%20Drum"),
        ("fernway", "main/memory/last.conf", b"Knots 9.game", b"Knots 8.game"),
        ("fernway", "main/settings/house.ini", b"Slow Reel.tune", b"Fast Reel.tune"),
        ("fernway", "main/settings/rooms.ini", b"[Puzzles]", b"[Puzzle]"),
        ("fernway", "main/parlour/Puzzles/room.ini", b"[Boats.2.game]", b"[Boats.3.game]"),
        ("orrery", "disk/almanac/catalogue.xml", b"<near>Moon 2</near>", b"<near>Moon 4</near>"),
        ("orrery", "disk/almanac/catalogue.xml", b"plates/HoneyMoon.png", b"plates/Honey.png"),
        ("orrery", "disk/almanac/seen.toml", b"Caf\\u00e9", b"Caf\\u00e8"),
        ("orrery", "disk/almanac/trails/winter.xml", b"/part%20one", b"/part%20two"),
        ("orrery", "disk/sky/Moon/piece.toml", b"/sky/Moon/", b"/sky/Lune/"),
    ],
)
def test_edit_by_hand_is_noticed(name, file, old, new, lent_card, read_device):
    """A reference bent in a manifest is a problem."""
    card = lent_card(name)
    content = (card / file).read_bytes()
    assert old in content
    (card / file).write_bytes(content.replace(old, new, 1))
    problems = read_device(name, card)["problems"]
    (card / file).write_bytes(content)
    assert problems


@pytest.mark.parametrize(
    ("name", "file", "damage"),
    [
        ("larkspur", "system/greet/hello.bmp", lambda raw: raw[:-1]),
        ("larkspur", "system/greet/hello.bmp", lambda raw: raw[:22] + struct.pack("<i", -384) + raw[26:]),
        ("larkspur", "system/greet/hello.bmp", lambda raw: raw[:28] + b"\x20\x00" + raw[30:]),
        ("fernway", "main/hello/first.bmp.gz", lambda raw: raw[:-9]),
        ("fernway", "main/hello/first.bmp.gz", lambda raw: raw[:-4] + struct.pack("<I", 1_048_577)),
        ("orrery", "disk/curtain/fall.bgra", lambda raw: raw + b"\0"),
    ],
)
def test_splash_of_another_kind_is_refused(name, file, damage, practice_card, read_device):
    """The device shows its own kind of splash and says so of any other."""
    card = practice_card(name)
    (card / file).write_bytes(damage((card / file).read_bytes()))
    seen = read_device(name, card)
    assert len(seen["problems"]) == 1
    assert list(seen["splash"].values()).count(None) == 1


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("name", DEVICES)
def test_damaged_card_gives_problems_not_a_crash(name, seed, practice_card):
    """Whatever is cut short, filled with noise or taken away, the reader still answers."""
    card = practice_card(name)
    rng = random.Random(seed)
    files = sorted(item for item in card.rglob("*") if item.is_file())
    for file in rng.sample(files, 12) + _manifests(card):
        _damage(file, rng)
    assert read_device(name, card)["problems"]


def _manifests(card: Path) -> list[Path]:
    return [
        item for item in sorted(card.rglob("*")) if item.suffix in (".json", ".ini", ".toml", ".xml", ".conf")
    ]


def _damage(file: Path, rng: random.Random) -> None:
    if not file.exists():
        return
    content = file.read_bytes()
    how = rng.randrange(4)
    if how == 0:
        file.unlink()
    elif how == 1:
        file.write_bytes(content[: len(content) // 2])
    elif how == 2:
        file.write_bytes(rng.randbytes(len(content)))
    else:
        at = rng.randrange(len(content) or 1)
        file.write_bytes(content[:at] + rng.choice([b"[]", b'""', b"0", b"{", b"\0"]) + content[at + 1 :])

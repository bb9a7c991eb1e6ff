"""Splashes on the practice cards, judged pixel by pixel by the devices' own readers."""

from __future__ import annotations

import hashlib
import random
import struct
from pathlib import Path

import pytest
from main_road import Road
from PIL import Image
from practice_cards import FIXTURES, profile_path

from workbench.jobs.splash import plan_blank, plan_put

PANELS = {"larkspur": (512, 384), "fernway": (640, 480), "orrery": (480, 800)}


def picture_of(device: str, folder: Path) -> tuple[Path, Image.Image]:
    """A picture of the panel's size in the eight colours that every kind holds exactly, unlike its turns."""
    width, height = PANELS[device]
    rng = random.Random(device)
    small = Image.new("RGB", (width // 16, height // 16))
    small.putdata([tuple(rng.choice((0, 255)) for _ in range(3)) for _ in range(small.width * small.height)])
    picture = small.resize((width, height), Image.Resampling.NEAREST)
    picture.save(folder / "picture.png")
    return folder / "picture.png", picture


def hash_shown(device: str, picture: Image.Image) -> str:
    """What the reader must say: R, G, B, or Fernway's 5-6-5 words (U-Boot, drivers/video/video_bmp.c)."""
    rgb = picture.tobytes()
    if device != "fernway":
        return hashlib.sha256(rgb).hexdigest()
    words = [
        (r >> 3) << 11 | (g >> 2) << 5 | b >> 3
        for r, g, b in zip(rgb[::3], rgb[1::3], rgb[2::3], strict=True)
    ]
    return hashlib.sha256(struct.pack(f"<{len(words)}H", *words)).hexdigest()


@pytest.mark.parametrize("device", PANELS)
def test_put_shows_the_picture_upright(device, practice_card, read_device, tree_bytes, tmp_path):
    """The device shows exactly these pixels, this way up, at every moment; undo brings the old bytes back."""
    card = practice_card(device)
    start, road = tree_bytes(card), Road(card, profile_path(device))
    path, picture = picture_of(device, tmp_path)
    road.apply(plan_put(road.tree, road.profile, ("all",), path, dither="none"))
    seen = read_device(device, card)
    assert seen["problems"] == []
    assert {shown["sha256"] for shown in seen["splash"].values()} == {hash_shown(device, picture)}
    road.undo_all()
    assert tree_bytes(card) == start


@pytest.mark.parametrize(
    ("sample", "fit"),
    [("harbour.png", "contain"), ("tower.jpg", "cover"), ("moon.png", "stretch"), ("moon.png", "centre")],
)
@pytest.mark.parametrize("device", PANELS)
def test_any_picture_is_taken(device, sample, fit, practice_card, read_device):
    """Wide, tall or with alpha, fitted in any way: the device takes what was written."""
    card = practice_card(device)
    road, moment = Road(card, profile_path(device)), "start"
    before = read_device(device, card)["splash"]
    road.apply(plan_put(road.tree, road.profile, (moment,), FIXTURES / "pictures" / sample, fit=fit))
    seen = read_device(device, card)
    assert seen["problems"] == []
    assert [name for name in before if seen["splash"][name] != before[name]] == [moment]


@pytest.mark.parametrize("device", PANELS)
def test_blank_is_one_colour(device, practice_card, read_device):
    """Blank fills the panel with the colour asked for."""
    card = practice_card(device)
    road = Road(card, profile_path(device))
    road.apply(plan_blank(road.tree, road.profile, ("start",), "#ff0000"))
    shown = read_device(device, card)["splash"]["start"]
    assert shown["sha256"] == hash_shown(device, Image.new("RGB", PANELS[device], (255, 0, 0)))

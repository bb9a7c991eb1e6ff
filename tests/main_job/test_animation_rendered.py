"""From a real clip to the device: rendered by the worker, written, and looked at as the device stores it."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import practice_cards
import pytest
from motion_cards import practice_motion
from PIL import Image

from workbench.jobs.animate import AnimateWish, plan_animate
from workbench.jobs.animation import show_animation
from workbench.jobs.rehearsal import frame_at, picture_of, rehearse

COLOURS = [(200, 30, 30), (30, 160, 40), (40, 60, 190), (190, 180, 40), (150, 40, 160)]
LENGTHS = [200, 80, 150, 60, 210]
"""Milliseconds that each picture of the clip stands: no two alike."""


def write_gif(path: Path) -> Path:
    """A clip whose picture at any time is known."""
    frames = [Image.new("RGB", (64, 40), colour) for colour in COLOURS]
    frames[0].save(path, save_all=True, append_images=frames[1:], duration=LENGTHS, loop=0)
    return path


def colour_at(seconds: Fraction) -> tuple[int, int, int]:
    """The clip's colour at a time (half-open: a picture stands from its time on)."""
    end = 0
    for colour, length in zip(COLOURS, LENGTHS, strict=True):
        end += length
        if seconds * 1000 < end:
            return colour
    return COLOURS[-1]


@pytest.mark.parametrize(("device", "delay"), [("larkspur", "35"), ("fernway", "50"), ("orrery", "33.369")])
def test_each_frame_is_the_clips_picture_of_its_time(device: str, delay: str, tmp_path: Path) -> None:
    """By its true time on the device, draw time counted in, upright again; the reader finds no fault."""
    motion = practice_motion(device, tmp_path)
    clip = write_gif(tmp_path / "clip.gif")
    wish = AnimateWish(clip, "dawn", fit="stretch", delay=Fraction(delay) / 1000, choose=True)
    planned = plan_animate(motion.tree, motion.profile, wish)
    motion.apply(planned.plan)
    seen = practice_cards.read_device(device, motion.root)
    assert seen["problems"] == [] and planned.report.flash.passes
    assert abs(seen["animation"]["length_ms"] - sum(LENGTHS)) < float(planned.report.pace.delay * 1000)
    scene = rehearse(motion.tree, motion.profile).scenes[1]
    width, height = motion.profile.panel.width, motion.profile.panel.height
    for index, at_ms in enumerate(seen["animation"]["shown_at_ms"]):
        assert frame_at(scene, scene.start + index * planned.report.pace.delay) == index
        picture = picture_of(motion.tree, motion.profile, scene, index)
        assert picture is not None and picture.size == (width, height)
        wanted = colour_at(index * planned.report.pace.delay)
        pixel = picture.getpixel((width // 2, height // 2))
        assert isinstance(pixel, tuple), at_ms
        assert max(abs(a - b) for a, b in zip(pixel, wanted, strict=True)) <= 6, (index, at_ms)
    assert show_animation(motion.tree, motion.profile, "dawn").problems == ()
    assert plan_animate(motion.tree, motion.profile, wish).plan.steps == ()

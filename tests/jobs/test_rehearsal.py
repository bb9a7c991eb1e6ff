"""The start of a device as a timeline."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import practice_cards
import pytest
from motion_cards import lay_out, practice_motion

from workbench.errors import EntryError
from workbench.jobs.animation_choose import plan_choose
from workbench.jobs.rehearsal import SPLASH_SECONDS, frame_at, picture_of, rehearse


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_the_start_is_what_the_devices_reader_sees(device: str, tmp_path: Path) -> None:
    """Splash, then each frame at its time, then the menu in order with what is shown for each entry."""
    motion = practice_motion(device, tmp_path)
    motion.animate(motion.clip(duration=0.3), choose=True)
    seen = practice_cards.read_device(device, motion.root)
    rehearsal = rehearse(motion.tree, motion.profile)
    splash, animation, menu = rehearsal.scenes
    assert (splash.kind, splash.start, splash.length) == ("splash", 0, SPLASH_SECONDS)
    times = [
        float((animation.start + index * animation.delay - SPLASH_SECONDS) * 1000)
        for index in range(len(animation.frames))
        if animation.delay is not None
    ]
    assert times == pytest.approx(seen["animation"]["shown_at_ms"], abs=0.001)
    assert animation.start == SPLASH_SECONDS and animation.sound
    assert menu.start == SPLASH_SECONDS + animation.length
    assert list(menu.lines) == [entry["label"] for entry in seen["menus"][0]["entries"]]


def test_the_frame_of_a_time_is_the_one_that_stands_then(tmp_path: Path) -> None:
    """Half-open: at its own time a frame is there, a moment before it is not; outside there is none."""
    motion = practice_motion("larkspur", tmp_path)
    scene = rehearse(motion.tree, motion.profile).scenes[1]
    moment = Fraction(1, 1_000_000)
    at = scene.start
    wanted = [(at - moment, None), (at, 0), (at + Fraction(4, 100) - moment, 0), (at + Fraction(4, 100), 1)]
    wanted += [(at + Fraction(32, 100) - moment, 7), (at + Fraction(32, 100), None)]
    assert [frame_at(scene, time) for time, _ in wanted] == [index for _, index in wanted]


def test_pictures_are_upright_as_a_person_sees_them(tmp_path: Path) -> None:
    """A device that stores them turned shows them turned back."""
    motion = practice_motion("fernway", tmp_path)
    motion.animate(motion.clip(duration=0.1), choose=True)
    scenes = rehearse(motion.tree, motion.profile).scenes
    for scene in scenes[:2]:
        picture = picture_of(motion.tree, motion.profile, scene)
        assert picture is not None and picture.size == (640, 480)
    assert picture_of(motion.tree, motion.profile, scenes[2]) is None


def test_the_card_as_it_will_be_is_rehearsed_too(tmp_path: Path) -> None:
    """On a waiting plan, nothing written."""
    motion = practice_motion("larkspur", tmp_path)
    plan = motion.plan(motion.clip(duration=0.2), choose=True).plan
    titles = [scene.title for scene in rehearse(plan.on(motion.tree), motion.profile).scenes]
    assert titles[1].startswith("dawn: 5 frames")
    none = plan_choose(motion.tree, motion.profile, None)
    assert [one.kind for one in rehearse(none.on(motion.tree), motion.profile).scenes] == ["splash", "menu"]


def test_what_would_go_wrong_is_said(tmp_path: Path) -> None:
    """An animation that is chosen and not there, frames that are missing, a splash that is none."""
    motion = practice_motion("larkspur", tmp_path)
    (motion.root / "data/house/motion/river/7.png").unlink()
    (motion.root / "system/greet/hello.bmp").unlink()
    notes = " ".join(rehearse(motion.tree, motion.profile).notes)
    assert "1 frames of river are missing" in notes and "splash is not seen" in notes
    (motion.root / "data/house/motion/river").rename(motion.root / "data/house/motion/brook")
    assert "river is to play" in " ".join(rehearse(motion.tree, motion.profile).notes)
    assert rehearse(motion.tree, motion.profile, name="brook").scenes[0].kind == "animation"
    with pytest.raises(EntryError):
        rehearse(motion.tree, motion.profile, name="lake")


def test_what_plays_several_times_lasts_as_long(tmp_path: Path) -> None:
    """The frames come round; nothing is laid out a million times."""
    motion = lay_out("leaves", tmp_path)
    motion.animate(motion.clip(duration=0.2), choose=True, loops=1_000_000)
    scene = rehearse(motion.tree, motion.profile).scenes[0]
    assert scene.delay is not None and scene.length == len(scene.frames) * scene.delay * 1_000_000
    assert frame_at(scene, scene.start + (len(scene.frames) + 1) * scene.delay) == 1

"""A clip becomes a boot animation on every device, as the devices' own readers see it."""

from __future__ import annotations

import shutil
import subprocess
from fractions import Fraction
from pathlib import Path
from typing import Any

import motion_cards
import practice_cards
import pytest
from motion_cards import Motion, lay_out, practice_motion, read_layout

from workbench.jobs.animation_choose import plan_choose
from workbench.jobs.animation_retime import plan_retime

LABEL = 'It\'s "$(touch x)" `id`; [Été] 雨'
AUTHOR = "Zoé ]\\ $HOME"


@pytest.fixture(params=practice_cards.DEVICES)
def device(request: pytest.FixtureRequest) -> str:
    return str(request.param)


def seen_by(device: str, motion: Motion) -> dict[str, Any]:
    return practice_cards.read_device(device, motion.root)


def test_the_device_plays_what_was_made(device: str, tmp_path: Path) -> None:
    """Frames, timing, sound and choice; nothing else has changed; undo brings every byte back."""
    motion = practice_motion(device, tmp_path)
    before, start = seen_by(device, motion), practice_cards.tree_bytes(motion.root)
    planned = motion.animate(motion.clip(duration=0.7), choose=True, label=LABEL, author=AUTHOR)
    seen = seen_by(device, motion)
    played, report = seen.pop("animation"), planned.report
    assert played["name"] == "dawn"
    assert len(played["frames"]) == report.frames and None not in played["frames"]
    assert played["frames"] == [frame.sha256 for frame in last_frames(motion)]
    step = float(report.pace.delay * 1000)
    assert played["shown_at_ms"] == pytest.approx([n * step for n in range(report.frames)], abs=0.01)
    assert abs(played["sound_ms"] - played["length_ms"]) < step
    assert seen["problems"] == []
    before.pop("animation")
    assert seen == before
    motion.undo(1)
    assert practice_cards.tree_bytes(motion.root) == start


def last_frames(motion: Motion) -> Any:
    """The files of the latest render, by its own order."""
    order = motion.render.orders[-1]
    folder = motion.folder / "renders" / str(len(motion.render.orders))
    from hashlib import sha256
    from types import SimpleNamespace

    index = 0
    while (folder / order.frames.name_of(index)).exists():
        yield SimpleNamespace(sha256=sha256((folder / order.frames.name_of(index)).read_bytes()).hexdigest())
        index += 1


@pytest.mark.parametrize(("delay", "duration"), [("35", 1.0), ("33.366", 0.31), ("50", 0.31), ("100", 1.0)])
def test_sound_and_last_frame_stay_together(device: str, delay: str, duration: float, tmp_path: Path) -> None:
    """As the device plays it, less than one delay apart, whatever its settings can say of the wish."""
    motion = practice_motion(device, tmp_path)
    source = motion.clip(duration=duration)
    planned = motion.animate(source, choose=True, delay=motion_cards.milliseconds(delay))
    played = seen_by(device, motion)["animation"]
    step = played["shown_at_ms"][1] if len(played["frames"]) > 1 else played["length_ms"]
    assert step == pytest.approx(float(planned.report.pace.delay * 1000), abs=0.001)
    assert abs(played["sound_ms"] - played["length_ms"]) < step
    assert abs(played["length_ms"] - duration * 1000) < step
    assert motion.render.orders[-1].delay == planned.report.pace.delay


def test_texts_come_out_of_fernways_sheet_and_script(tmp_path: Path) -> None:
    """Its reader parses the sheet with configparser and runs the script with sh."""
    motion = practice_motion("fernway", tmp_path)
    motion.animate(motion.clip(duration=0.2), choose=True, label=LABEL + "\nand more", author=AUTHOR)
    played = seen_by("fernway", motion)["animation"]
    assert played["title"] == LABEL + " and more"
    assert played["author"] == AUTHOR
    assert played["says"] == f"That was {LABEL}\nand more, by {AUTHOR}.\n"


def test_nothing_plays_after_choosing_none_and_the_old_one_after_choosing_it(
    device: str, tmp_path: Path
) -> None:
    """One plays, none plays, and each choice can be taken back."""
    motion = practice_motion(device, tmp_path)
    before = seen_by(device, motion)["animation"]
    motion.animate(motion.clip(duration=0.2))
    assert seen_by(device, motion)["animation"] == before
    chosen = motion.apply(plan_choose(motion.tree, motion.profile, "dawn"))
    assert seen_by(device, motion)["animation"]["name"] == "dawn"
    motion.apply(plan_choose(motion.tree, motion.profile, None))
    assert seen_by(device, motion)["animation"] is None
    motion.undo(chosen + 1)
    assert seen_by(device, motion)["animation"]["name"] == "dawn"


def test_retimed_frames_are_those_that_stood_there(device: str, tmp_path: Path) -> None:
    """With the length kept, each new frame is the old one of its time; sound and picture stay together."""
    motion = practice_motion(device, tmp_path)
    motion.animate(motion.clip(duration=1.0), choose=True, delay=Fraction(50, 1000))
    old = seen_by(device, motion)["animation"]
    motion.apply(plan_retime(motion.tree, motion.profile, "dawn", Fraction(80, 1000), resample=True))
    new = seen_by(device, motion)
    step, now = old["shown_at_ms"][1], new["animation"]
    wanted = [old["frames"][min(len(old["frames"]) - 1, int(at / step + 1e-6))] for at in now["shown_at_ms"]]
    assert now["frames"] == wanted and new["problems"] == []
    assert abs(now["sound_ms"] - now["length_ms"]) < now["shown_at_ms"][1]


@pytest.mark.parametrize(
    ("layout", "name", "size"),
    [("leaves", "dawn", (48, 64)), ("bare", "film", (64, 48)), ("listed", "dawn", (48, 64))],
)
def test_devices_of_no_fixture_play_it_too(
    layout: str, name: str, size: tuple[int, int], tmp_path: Path
) -> None:
    """Other numbers, formats, units and places, read by code that shares nothing with ours."""
    motion = lay_out(layout, tmp_path)
    start = practice_cards.tree_bytes(motion.root)
    wishes: dict[str, Any] = {} if layout == "bare" else {"choose": True, "label": LABEL}
    if layout == "leaves":
        wishes |= {"author": AUTHOR, "loops": 3}
    planned = motion.animate(motion.clip(duration=0.5), name, **wishes)
    seen = read_layout(layout, motion, name)
    assert seen["frames"] == [size] * planned.report.frames
    assert seen["step_ms"] == pytest.approx(float(planned.report.pace.delay * 1000))
    assert abs(seen["length_ms"] - 500) < seen["step_ms"]
    if seen["sound_ms"] is not None:
        assert abs(seen["sound_ms"] - seen["length_ms"]) < seen["step_ms"]
    assert motion.plan(motion.folder / "clip1.fake", name, **wishes).plan.steps == ()
    motion.undo(1)
    assert practice_cards.tree_bytes(motion.root) == start


def test_leaves_say_whose_they_are(tmp_path: Path) -> None:
    """Author, loops, label, choice with its affix, art, and a script that sh runs."""
    motion = lay_out("leaves", tmp_path)
    motion.animate(motion.clip(duration=0.3), choose=True, label=LABEL, author=AUTHOR, loops=2)
    seen = read_layout("leaves", motion, "dawn")
    assert (seen["author"], seen["loops"], seen["label"]) == (AUTHOR, "2", LABEL)
    assert seen["plays"] == "plays = moving/dawn"
    go = motion.root / "main/moving/dawn/go"
    assert go.stat().st_mode & 0o111
    shell = shutil.which("sh")
    if shell is not None:
        words = "show() { printf '%s\\0' \"$@\"; }\n. ./go\n"
        ended = subprocess.run(
            [shell, "-c", words], cwd=go.parent, capture_output=True, timeout=10, check=True
        )
        count = len(seen["frames"])
        assert ended.stdout.decode().split("\0")[:-1] == [AUTHOR, LABEL, str(count), str(count)]


def test_an_animation_becomes_an_entry_where_the_profile_says_so(tmp_path: Path) -> None:
    """Registered with its label, its script made after a neighbour's, its cover from a frame."""
    motion = lay_out("listed", tmp_path)
    motion.animate(motion.clip(duration=0.3), choose=True, label=LABEL)
    seen = read_layout("listed", motion, "dawn")
    assert seen["registered"] == {"title": LABEL}
    assert seen["cover"] == (16, 12)
    assert seen["plays"] == '<start><show name="dawn"/></start>\n'
    assert (motion.root / "main/shows/dawn/go").read_text() == "#!/bin/sh\nexec show /m/shows/dawn\n"

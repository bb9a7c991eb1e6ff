"""Back from the card: show, retime, resize, renumber, mend and choose."""

from __future__ import annotations

import io
import shutil
import wave
from fractions import Fraction
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from motion_cards import Motion, lay_out, practice_motion
from PIL import Image

from workbench.errors import EntryError, MediaError, ProfileError
from workbench.jobs.animate import CancelledError
from workbench.jobs.animation import show_animation, show_animations
from workbench.jobs.animation_choose import plan_choose
from workbench.jobs.animation_numbers import plan_mend, plan_renumber
from workbench.jobs.animation_resize import plan_resize
from workbench.jobs.animation_retime import plan_retime
from workbench.jobs.animation_sound import measure_sound


@pytest.fixture
def motion(tmp_path: Path) -> Motion:
    return practice_motion("larkspur", tmp_path)


@pytest.fixture
def home(motion: Motion) -> Path:
    """The folder of the animation that the card comes with."""
    return motion.root / "data/house/motion/river"


def problems(motion: Motion, name: str = "river") -> list[str]:
    return [one.rule for one in show_animation(motion.tree, motion.profile, name).problems]


def played(motion: Motion, device: str = "larkspur") -> Any:
    seen = practice_cards.read_device(device, motion.root)
    assert seen["problems"] == []
    return seen["animation"]


@pytest.mark.parametrize("device", ["larkspur", "orrery"])
def test_a_sound_animation_has_no_problems(device: str, tmp_path: Path) -> None:
    """Its facts are what the device's reader says."""
    motion = practice_motion(device, tmp_path)
    (facts,) = show_animations(motion.tree, motion.profile)
    seen = practice_cards.read_device(device, motion.root)["animation"]
    assert facts.problems == () and facts.length is not None and facts.sound_length is not None
    assert float(facts.length * 1000) == seen["length_ms"]
    assert float(facts.sound_length * 1000) == seen["sound_ms"]
    assert facts.animation.name == seen["name"] and "PNG" in facts.kind


def spoil(home: Path, how: str) -> None:
    settings = home / "play.conf"
    text = settings.read_text()
    match how:
        case "gap":
            (home / "3.png").unlink()
        case "count-differs":
            settings.write_text(text.replace("pictures=8", "pictures=6"))
        case "too-many":
            settings.write_text(text.replace("pictures=8", "pictures=11"))
        case "no-pace":
            settings.write_text(text.replace("hold_ms = 40", "hold_ms = soon"))
        case "no-settings":
            settings.unlink()
        case "settings-unreadable":
            settings.write_bytes(b"\0\1\2")
        case "frame-size":
            Image.new("RGB", (40, 30)).save(home / "2.png")
        case "frame-unreadable":
            (home / "2.png").write_bytes(b"\x89PNG\r\n\x1a\n")
        case "sound-length":
            (home / "sound.wav").write_bytes(wav(2.0))
        case "sound-unreadable":
            (home / "sound.wav").write_bytes((home / "sound.wav").read_bytes()[:30])
        case "no-frames":
            for frame in home.glob("*.png"):
                frame.unlink()


def wav(seconds: float, rate: int = 8000) -> bytes:
    held = io.BytesIO()
    with wave.open(held, "wb") as sound:
        sound.setnchannels(1)
        sound.setsampwidth(2)
        sound.setframerate(rate)
        sound.writeframes(bytes(2 * round(seconds * rate)))
    return held.getvalue()


@pytest.mark.parametrize(
    ("how", "rules"),
    [
        ("gap", ["gap"]),
        ("count-differs", ["count-differs", "sound-length"]),
        ("too-many", ["gap", "sound-length"]),
        ("no-pace", ["no-pace"]),
        ("no-settings", ["no-settings"]),
        ("settings-unreadable", ["settings-unreadable"]),
        ("frame-size", ["frame-size"]),
        ("frame-unreadable", ["frame-unreadable"]),
        ("sound-length", ["sound-length"]),
        ("sound-unreadable", ["sound-unreadable"]),
        ("no-frames", ["no-frames"]),
    ],
)
def test_what_is_wrong_is_said(motion: Motion, home: Path, how: str, rules: list[str]) -> None:
    """Each by its own rule, and nothing else."""
    spoil(home, how)
    assert problems(motion) == rules


@pytest.mark.parametrize("how", ["repeat", "close"])
def test_gaps_are_filled_or_closed(motion: Motion, home: Path, how: str) -> None:
    """The frame before stands in, or the rest moves up; the count follows; undo brings the gap back."""
    old = played(motion)["frames"]
    (home / "3.png").unlink()
    (home / "4.png").unlink()
    spoilt = practice_cards.tree_bytes(motion.root)
    number = motion.apply(plan_mend(motion.tree, motion.profile, "river", how))
    wanted = [*old[:3], old[2], old[2], *old[5:]] if how == "repeat" else [*old[:3], *old[5:]]
    assert played(motion)["frames"] == wanted
    assert "gap" not in problems(motion)
    motion.undo(number)
    assert practice_cards.tree_bytes(motion.root) == spoilt


@pytest.mark.parametrize("how", ["count-differs", "too-many"])
def test_settings_that_disagree_are_set_right(motion: Motion, home: Path, how: str) -> None:
    """The frames that are there count."""
    spoil(home, how)
    motion.apply(plan_mend(motion.tree, motion.profile, "river"))
    assert problems(motion) == [] and len(played(motion)["frames"]) == 8


def test_frames_are_counted_anew_whatever_zeros_they_have(motion: Motion, home: Path) -> None:
    """`07.png` and `0012.png` come into line, in the order of their numbers; undo takes all moves back."""
    old = played(motion)["frames"]
    for before, after in (("1", "01"), ("5", "0012"), ("7", "40")):
        (home / f"{before}.png").rename(home / f"{after}.png")
    spoilt = practice_cards.tree_bytes(motion.root)
    number = motion.apply(plan_renumber(motion.tree, motion.profile, "river"))
    assert played(motion)["frames"] == [*old[:5], old[6], old[5], old[7]]
    motion.undo(number)
    assert practice_cards.tree_bytes(motion.root) == spoilt


def test_nothing_to_mend_is_no_plan(motion: Motion) -> None:
    """And it is said."""
    for plan in (
        plan_mend(motion.tree, motion.profile, "river"),
        plan_renumber(motion.tree, motion.profile, "river"),
    ):
        assert plan.steps == () and plan.notes


def test_retiming_keeps_the_frames(motion: Motion, home: Path) -> None:
    """Only the settings change, in one place; that the sound will not fit is said."""
    old = played(motion)["frames"]
    plan = plan_retime(motion.tree, motion.profile, "river", Fraction(1, 10))
    assert len(plan.steps) == 1 and any("sound" in note for note in plan.notes)
    motion.apply(plan)
    seen = played(motion)
    assert (seen["frames"], seen["length_ms"]) == (old, 800)
    assert (home / "play.conf").read_text().count("\n") == 4


def test_what_was_asked_for_is_not_advised_again(motion: Motion) -> None:
    """Retimed with the frames kept, then again with the length kept: only a new sound helps by then."""
    motion.apply(plan_retime(motion.tree, motion.profile, "river", Fraction(1, 10)))
    for resample in (False, True):
        plan = plan_retime(motion.tree, motion.profile, "river", Fraction(1, 10), resample=resample)
        assert "Set the pace" in plan.title
        notes = [note for note in plan.notes if "from its clip" in note]
        assert notes and all(("--resample" in note) != resample for note in notes)


def test_faster_frames_repeat_the_one_of_their_time(motion: Motion) -> None:
    """Twice as many, each old one twice; the sound still fits."""
    old = played(motion)["frames"]
    motion.apply(plan_retime(motion.tree, motion.profile, "river", Fraction(20, 1000), resample=True))
    seen = played(motion)
    assert seen["frames"] == [frame for frame in old for _ in range(2)] and seen["length_ms"] == 320
    assert problems(motion) == []


def test_retiming_needs_what_it_stands_on(motion: Motion, home: Path, tmp_path: Path) -> None:
    """A pace to begin with, whole frames, and a setting."""
    spoil(home, "gap")
    with pytest.raises(EntryError, match="Mend them first"):
        plan_retime(motion.tree, motion.profile, "river", Fraction(1, 10), resample=True)
    spoil(home, "no-pace")
    with pytest.raises(EntryError, match="present pace"):
        plan_retime(motion.tree, motion.profile, "river", Fraction(1, 10), resample=True)
    (tmp_path / "b").mkdir()
    bare = lay_out("bare", tmp_path / "b")
    bare.animate(bare.clip(duration=0.2), "film")
    with pytest.raises(MediaError, match="no setting for how long"):
        plan_retime(bare.tree, bare.profile, "film", Fraction(1, 10))


@pytest.mark.parametrize("layout", ["leaves", "bare", "listed"])
def test_frames_of_another_size_are_scaled_in_their_own_kind(layout: str, tmp_path: Path) -> None:
    """Turned as they are stored; the others are not touched."""
    motion = lay_out(layout, tmp_path)
    name = "film" if layout == "bare" else "dawn"
    motion.animate(motion.clip(duration=0.3), name)
    frame = show_animation(motion.tree, motion.profile, name).animation.frames[1]
    path = motion.root / "main" / frame.at.path
    Image.open(path).resize((20, 30)).save(path)
    assert problems(motion, name) == ["frame-size"]
    plan = plan_resize(motion.tree, motion.profile, name)
    assert len(plan.steps) == 1
    motion.apply(plan)
    assert problems(motion, name) == []


def test_resizing_can_be_stopped(motion: Motion) -> None:
    """Nothing is planned."""
    with pytest.raises(CancelledError):
        plan_resize(motion.tree, motion.profile, "river", size=(256, 192), cancelled=lambda: True)


def test_resizing_to_another_size(motion: Motion) -> None:
    """All frames, as a person asks."""
    plan = plan_resize(motion.tree, motion.profile, "river", size=(256, 192))
    assert len(plan.steps) == 8 and "8 of 8" in plan.notes[0]
    motion.apply(plan)
    assert show_animation(motion.tree, motion.profile, "river").size == (256, 192)


def test_choosing_refuses_what_is_not_there(motion: Motion, tmp_path: Path) -> None:
    """A name that is none; and none at all where the profile does not know how."""
    with pytest.raises(EntryError, match="It has: river"):
        plan_choose(motion.tree, motion.profile, "lake")
    assert plan_choose(motion.tree, motion.profile, "river").steps == ()
    (tmp_path / "l").mkdir()
    listed = lay_out("listed", tmp_path / "l")
    with pytest.raises(ProfileError, match="when nothing plays"):
        plan_choose(listed.tree, listed.profile, None)


@pytest.mark.parametrize(
    ("kind", "words", "seconds"),
    [
        ("wav", [], 1.5),
        ("mp3", ["-b:a", "96k"], 1.5),
        ("mp3", ["-ar", "22050", "-q:a", "5"], 1.5),
        ("ogg", ["-c:a", "libvorbis"], 1.5),
        ("ogg", ["-c:a", "libopus"], 1.5),
    ],
)
def test_sounds_are_measured_by_their_file_alone(
    kind: str, words: list[str], seconds: float, tmp_path: Path
) -> None:
    """Against what the ffmpeg command line was asked to make; MP3 adds its padding of up to three frames."""
    import subprocess

    ffmpeg = shutil.which("ffmpeg")
    if ffmpeg is None:
        pytest.skip("no ffmpeg on this computer")
    path = tmp_path / f"tone.{kind}"
    made = ["-v", "error", "-f", "lavfi", "-i", f"sine=440:d={seconds}", *words, str(path)]
    if subprocess.run([ffmpeg, *made], capture_output=True).returncode:
        pytest.skip("this ffmpeg lacks the encoder")
    measured = measure_sound(path.read_bytes(), path.name)
    assert measured is not None and -0.01 <= float(measured) - seconds <= (0.08 if kind == "mp3" else 0.01)


@pytest.mark.parametrize(
    "raw", [b"", b"OggS", b"ID3\3\0\0\0\0\0\1x", b"\xff\xfb", b"text", b"OggS" + b"\xff" * 40]
)
def test_what_is_no_sound_has_no_length(raw: bytes) -> None:
    """Nothing is guessed."""
    assert measure_sound(raw, "x") is None

"""An animation as one file to share, timed as the device shows it."""

from __future__ import annotations

import builtins
import io
from fractions import Fraction
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from hypothesis import given
from hypothesis import strategies as st
from motion_cards import Motion, practice_motion
from PIL import Image

from workbench.errors import CardwrightError, MediaError, UsageError
from workbench.jobs.animate import CancelledError
from workbench.jobs.animation_export import export_animation, gif_times


@pytest.fixture
def motion(tmp_path: Path) -> Motion:
    return practice_motion("orrery", tmp_path)


def test_a_gif_has_every_frame_at_its_time(motion: Motion, tmp_path: Path) -> None:
    """84 ms a frame: hundredths that add up to the true length, pictures that look like the frames."""
    done = export_animation(motion.tree, motion.profile, "comet", tmp_path / "out.gif")
    assert (done.frames, done.length) == (6, Fraction(504, 1000)) and "no sound" in done.notes[0]
    with Image.open(tmp_path / "out.gif") as gif:
        times = []
        for index in range(gif.n_frames):
            gif.seek(index)
            times.append(gif.info["duration"])
            if index == 3:
                shown = gif.convert("RGB").resize((48, 80))
        assert gif.size == (480, 800) and gif.info["loop"] == 0
    assert times == [80, 90, 80, 90, 80, 80] and sum(times) == 500
    wanted = Image.open(motion.root / "disk/motion/comet/plate004.png").convert("RGB").resize((48, 80))
    apart = [abs(a - b) for a, b in zip(shown.tobytes(), wanted.tobytes(), strict=True)]
    assert sum(apart) / len(apart) < 6


@given(count=st.integers(1, 200), delay=st.fractions(Fraction(1, 200), Fraction(1)))
def test_the_hundredths_of_a_gif_never_drift(count: int, delay: Fraction) -> None:
    """Each frame ends within half a hundredth of its true time; none is shorter than viewers take."""
    times = gif_times(count, delay)
    end = Fraction(0)
    for index, hundredths in times[:-1]:
        end += hundredths
        assert hundredths >= 2 and abs(end / 100 - (index + 1) * delay) <= Fraction(1, 200)
    assert abs(sum(hundredths for _, hundredths in times) - count * delay * 100) <= Fraction(3, 2)


@pytest.mark.parametrize("device", ["larkspur", "orrery"])
def test_an_mp4_has_pictures_and_sound_as_long_as_the_device_plays_them(device: str, tmp_path: Path) -> None:
    """Read back by the library that others use."""
    av = pytest.importorskip("av")
    motion = practice_motion(device, tmp_path)
    name = "river" if device == "larkspur" else "comet"
    seen = practice_cards.read_device(device, motion.root)["animation"]
    export_animation(motion.tree, motion.profile, name, tmp_path / "out.mp4")
    with av.open(str(tmp_path / "out.mp4")) as clip:
        times = [float(frame.pts * frame.time_base) * 1000 for frame in clip.decode(video=0)]
        sound = clip.streams.audio[0]
        assert float(sound.duration * sound.time_base) * 1000 == pytest.approx(seen["sound_ms"], abs=70)
        video = clip.streams.video[0]
        assert float(video.duration * video.time_base) * 1000 == pytest.approx(seen["length_ms"], abs=0.1)
    assert times == pytest.approx(seen["shown_at_ms"], abs=0.02)


def test_without_the_extra_it_says_what_to_install(motion: Motion, tmp_path: Path, monkeypatch: Any) -> None:
    """And writes nothing."""
    real = builtins.__import__

    def missing(name: str, *rest: Any, **more: Any) -> Any:
        if name == "av":
            raise ImportError(name)
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", missing)
    with pytest.raises(MediaError, match=r"cardwright\[clip\]"):
        export_animation(motion.tree, motion.profile, "comet", tmp_path / "out.mp4")
    assert not (tmp_path / "out.mp4").exists()


def test_a_file_that_is_there_is_left(motion: Motion, tmp_path: Path) -> None:
    """Unless it is said to be replaced; another suffix is refused."""
    taken = tmp_path / "out.gif"
    taken.write_bytes(b"mine")
    with pytest.raises(CardwrightError, match="left as it is"):
        export_animation(motion.tree, motion.profile, "comet", taken)
    assert taken.read_bytes() == b"mine"
    export_animation(motion.tree, motion.profile, "comet", taken, overwrite=True)
    assert Image.open(io.BytesIO(taken.read_bytes())).format == "GIF"
    with pytest.raises(UsageError, match=r"\.gif or \.mp4"):
        export_animation(motion.tree, motion.profile, "comet", tmp_path / "out.webp")


def test_a_stopped_export_leaves_no_file(motion: Motion, tmp_path: Path) -> None:
    """Nor a part of one; the card is never written."""
    before = practice_cards.tree_bytes(motion.root)
    told: list[object] = []
    with pytest.raises(CancelledError):
        export_animation(
            motion.tree,
            motion.profile,
            "comet",
            tmp_path / "out.gif",
            progress=told.append,
            cancelled=lambda: len(told) > 2,
        )
    assert not list(tmp_path.glob("*out*"))
    assert practice_cards.tree_bytes(motion.root) == before

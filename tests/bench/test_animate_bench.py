"""A whole render, its report included, beside the ffmpeg command that makes the same frames and sound.

Prints minima and medians of alternating runs, processor time, bytes and peak memory; asserts that the frames
are equal and the files no larger, and nothing about time. Ours is a process of its own that starts the
worker, examines the frames for flashes and measures the sound; ffmpeg runs with its defaults.
"""

from __future__ import annotations

import os
import shutil
import statistics
import subprocess
import sys
from math import ceil
from pathlib import Path

import pytest
from practice_cards import FIXTURES

np = pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")

ROUNDS = 3
CLIPS = {
    "1280x720 at 30": ("1280x720", 30, "0.60"),
    "1920x1080 at 60": ("1920x1080", 60, "0.65"),
    "854x480 at 24": ("854x480", 24, "0.60"),
}
"""Name, size, rate, and the share of ffmpeg's wall time that is aimed at."""

FILTERS = "scale=640:360:flags=bicubic+accurate_rnd,pad=640:480:(ow-iw)/2:(oh-ih)/2"
SCRIPT = """
import sys
from fractions import Fraction
from pathlib import Path
from workbench.jobs.rendering import render
from workbench.media.render_order import FrameFormat, RenderOrder, SoundFormat
form = FrameFormat(colours=int(sys.argv[3]) or None)
order = RenderOrder(Path(sys.argv[1]), (640, 480), Fraction(sys.argv[2]), form, SoundFormat())
report, folder = render(order)
print(folder)
print(report)
"""


@pytest.fixture(scope="module")
def make_clip(tmp_path_factory):
    """`make_clip("1280x720", 30)`: 12 s that move everywhere and change their colours, with a tone."""
    if shutil.which("ffmpeg") is None:
        pytest.skip("ffmpeg is not installed")
    folder = tmp_path_factory.mktemp("clips")

    def make(size: str, rate: int) -> Path:
        path = folder / f"{size}-{rate}.mp4"
        pictures = f"mandelbrot=s={size}:r={rate}:start_scale=1:end_scale=0.01,hue=H=0.3*t"
        words = ["-f", "lavfi", "-i", pictures, "-f", "lavfi", "-i", "sine=f=440:r=44100", "-t", "12"]
        codec = ["-c:v", "libx264", "-preset", "veryfast", "-crf", "20", "-pix_fmt", "yuv420p", "-c:a", "aac"]
        subprocess.run(["ffmpeg", "-v", "error", "-y", *words, *codec, "-ac", "2", str(path)], check=True)
        return path

    return make


def run(command: list[str], cache: Path) -> tuple[float, float, int, str]:
    """Wall and processor seconds, peak memory in MB of the largest process, and what it printed."""
    surroundings = {**os.environ, "CARDWRIGHT_CACHE": str(cache)}
    watched = (
        "import json, os, resource, subprocess, sys, time; start = time.perf_counter(); "
        "done = subprocess.run(sys.argv[1:], stdout=subprocess.PIPE, check=True); "
        "used = resource.getrusage(resource.RUSAGE_CHILDREN); "
        "print(time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss // 1024); "
        "sys.stdout.flush(); sys.stdout.buffer.write(done.stdout)"
    )
    ran = subprocess.run(
        [sys.executable, "-c", watched, *command],
        cwd=FIXTURES.parent,
        env=surroundings,
        check=True,
        capture_output=True,
        text=True,
    )
    figures, _, printed = ran.stdout.partition("\n")
    wall, processor, memory = figures.split()
    return float(wall), float(processor), int(memory), printed


@pytest.mark.bench
@pytest.mark.parametrize("name", CLIPS)
def test_render_beside_ffmpeg(name, make_clip, tmp_path, capsys):
    """The same pixels at the same times; minima say most where others share the machine."""
    size, rate, aim = CLIPS[name]
    clip = make_clip(size, rate)
    ours, theirs = [], []
    for turn in range(ROUNDS):
        cache, frames = tmp_path / f"cache{turn}", tmp_path / "theirs"
        shutil.rmtree(frames, ignore_errors=True)
        frames.mkdir()
        command = ["ffmpeg", "-v", "error", "-y", "-i", str(clip), "-vf", FILTERS, str(frames / "%d.png")]
        theirs.append(run([*command, "-ac", "2", "-ar", "44100", str(tmp_path / "theirs.mp3")], cache))
        ours.append(run([sys.executable, "-c", SCRIPT, str(clip), f"1/{rate}", "0"], cache))
        folder = Path(ours[-1][3].splitlines()[0])
        bytes_ours, bytes_theirs = (_bytes(each, "*.png") for each in (folder, frames))
        if turn == 0:
            _compare(folder, frames, 12 * rate)
        shutil.rmtree(cache)
    (wall, processor), (their_wall, their_processor) = (
        [min(run[at] for run in runs) for at in range(2)] for runs in (ours, theirs)
    )
    memory, their_memory = (max(run[2] for run in runs) for runs in (ours, theirs))
    usual, their_usual = (statistics.median(run[0] for run in runs) for runs in (ours, theirs))
    with capsys.disabled():
        print(f"\n{name}: {wall:.2f} s beside {their_wall:.2f} s ({wall / their_wall:.2f} x, aim {aim})")
        print(f"  medians {usual:.2f} beside {their_usual:.2f} s ({usual / their_usual:.2f} x)")
        share = processor / their_processor
        print(f"  processor {processor:.2f} beside {their_processor:.2f} s ({share:.2f} x)")
        print(f"  peak {memory} beside {their_memory} MB ({memory / their_memory:.2f} x)")
        print(f"  bytes {bytes_ours / bytes_theirs:.3f} x")
    assert bytes_ours <= bytes_theirs


@pytest.mark.bench
def test_compact_frames_beside_ffmpeg(make_clip, tmp_path, capsys):
    """256 colours, counted in allocation units of 32 KiB."""
    clip = make_clip("1280x720", 30)
    frames = tmp_path / "theirs"
    frames.mkdir()
    subprocess.run(
        ["ffmpeg", "-v", "error", "-i", str(clip), "-vf", FILTERS, str(frames / "%d.png")], check=True
    )
    wall, processor, memory, printed = run(
        [sys.executable, "-c", SCRIPT, str(clip), "1/30", "256"], tmp_path / "cache"
    )
    small, large = (_units(each) for each in (Path(printed.splitlines()[0]), frames))
    with capsys.disabled():
        print(
            f"\ncompact: {small} units beside {large} ({small / large:.2f} x, aim 0.25), "
            f"{wall:.1f} s, processor {processor:.1f} s, peak {memory} MB"
        )
    assert small < large


def _compare(folder: Path, theirs: Path, count: int) -> None:
    from PIL import Image

    assert len(list(folder.glob("*.png"))) == len(list(theirs.glob("*.png"))) == count
    for index in range(0, count, count // 7):
        one, other = (Image.open(path).convert("RGB") for path in
                      (folder / f"{index}.png", theirs / f"{index + 1}.png"))  # fmt: skip
        error = np.mean((np.asarray(one).astype(float) - np.asarray(other)) ** 2)
        assert error == 0 or 10 * np.log10(255**2 / error) >= 50


def _bytes(folder: Path, pattern: str) -> int:
    return sum(file.stat().st_size for file in folder.glob(pattern))


def _units(folder: Path) -> int:
    return sum(ceil(file.stat().st_size / 32768) for file in folder.glob("*.png"))

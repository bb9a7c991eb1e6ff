"""Small invented clips, made once a session by the ffmpeg command, and what it makes of them."""

from __future__ import annotations

import shutil
import subprocess
from fractions import Fraction
from pathlib import Path

import pytest
from PIL import Image

np = pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")

FFMPEG = shutil.which("ffmpeg")
NTSC = Fraction(1001, 30000)

PATTERN = "testsrc2=s=160x96:r=25"
X264 = ["-c:v", "libx264", "-preset", "ultrafast", "-crf", "12"]
LOSSLESS = ["-c:v", "ffv1"]
SAMPLES = {
    "plain.mp4": (["-f", "lavfi", "-i", "testsrc2=s=160x96:r=30000/1001", "-t", "0.5"], X264),
    "odd.mkv": (
        ["-f", "lavfi", "-i", "testsrc=s=161x97:r=25", "-t", "0.3"],
        [*LOSSLESS, "-pix_fmt", "yuv444p"],
    ),
    "ten.mkv": (["-f", "lavfi", "-i", PATTERN, "-t", "0.3"], [*LOSSLESS, "-pix_fmt", "yuv420p10"]),
    "wide.mp4": (["-f", "lavfi", "-i", f"{PATTERN},setsar=4/3", "-t", "0.3"], X264),
    "full.mp4": (["-f", "lavfi", "-i", PATTERN, "-t", "0.3"], [*X264, "-pix_fmt", "yuvj420p"]),
    "hd.mp4": (["-f", "lavfi", "-i", PATTERN, "-t", "0.3"], [*X264, "-colorspace", "bt709"]),
    "fields.mpg": (
        ["-f", "lavfi", "-i", "testsrc2=s=160x96:r=50,interlace", "-t", "0.4"],
        ["-c:v", "mpeg2video", "-flags", "+ilme+ildct", "-q:v", "2"],
    ),
    "pq.mkv": (
        ["-f", "lavfi", "-i", "color=white:s=64x48:r=25", "-t", "0.2"],
        [*LOSSLESS, "-pix_fmt", "yuv420p10", "-color_trc", "smpte2084", "-color_primaries", "bt2020",
         "-colorspace", "bt2020nc"],
    ),
    "clear.mkv": (
        ["-f", "lavfi", "-i", "color=red:s=64x48:r=25,format=gbrap,geq=r=255:g=0:b=0:a='255*gt(X,31)'",
         "-t", "0.2"],
        [*LOSSLESS, "-pix_fmt", "gbrap"],
    ),
    "clear.webm": (
        ["-f", "lavfi", "-i", "color=red:s=64x48:r=25,format=yuva420p,geq=lum='lum(X,Y)':cb='cb(X,Y)'"
         ":cr='cr(X,Y)':a='255*gt(X,31)'", "-t", "0.2"],
        ["-c:v", "libvpx-vp9", "-lossless", "1", "-auto-alt-ref", "0", "-pix_fmt", "yuva420p"],
    ),
    "tone.mp4": (
        ["-f", "lavfi", "-i", PATTERN, "-f", "lavfi", "-i", "sine=f=500:r=44100", "-t", "1"],
        [*X264, "-c:a", "aac", "-ac", "2"],
    ),
    "tone.mp3": (["-f", "lavfi", "-i", "sine=f=500", "-t", "0.5"], []),
}  # fmt: skip
TURNED = {f"turned{turn}.mp4": turn for turn in (90, 180, 270)}


def make_sample(name: str, folder: Path) -> Path:
    """The named clip, made at its first use."""
    path = folder / name
    if path.exists():
        return path
    if name in TURNED:
        plain = make_sample("plain.mp4", folder)
        words = ["-i", str(plain), "-c", "copy", "-metadata:s:v", f"rotate={TURNED[name]}"]
    else:
        source, codec = SAMPLES[name]
        words = [*source, *codec]
    waiting = folder / f"coming-{name}"
    run_ffmpeg(*words, str(waiting))
    waiting.rename(path)
    return path


def run_ffmpeg(*words: str) -> None:
    """Run the ffmpeg command; its errors are the test's."""
    subprocess.run([FFMPEG or "ffmpeg", "-nostdin", "-y", "-v", "error", *words], check=True)


def frames_by_ffmpeg(clip: Path, filters: str, folder: Path) -> list[np.ndarray]:
    """Every picture of a clip through these filters, as arrays."""
    folder.mkdir()
    run_ffmpeg("-i", str(clip), "-vsync", "0", "-vf", filters, str(folder / "%04d.png"))
    return [read_frame(file) for file in sorted(folder.iterdir())]


def read_frame(path: Path) -> np.ndarray:
    """A frame file's pixels by Pillow."""
    return np.asarray(Image.open(path).convert("RGB"))


def likeness(one: np.ndarray, other: np.ndarray) -> float:
    """Peak signal-to-noise ratio in dB; 99 for equal pixels."""
    error = np.mean((one.astype(float) - other.astype(float)) ** 2)
    return 99.0 if error == 0 else float(10 * np.log10(255**2 / error))


def write_timed_clip(path: Path, milliseconds: list[int], rate: int = 25) -> Path:
    """A clip whose pictures are due at these times; picture i is grey 10 × (i + 1) all over."""
    import av

    with av.open(str(path), "w") as container:
        stream = container.add_stream("ffv1", rate=rate)
        stream.width, stream.height, stream.pix_fmt = 32, 32, "bgr0"
        stream.codec_context.time_base = stream.time_base = Fraction(1, 1000)
        for index, due in enumerate(milliseconds):
            grey = np.full((32, 32, 3), 10 * (index + 1), np.uint8)
            frame = av.VideoFrame.from_ndarray(grey, "rgb24").reformat(format="bgr0")
            frame.pts, frame.time_base = due, Fraction(1, 1000)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path

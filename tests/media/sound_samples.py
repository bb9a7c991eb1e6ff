"""Test signals, and other programs and packages to hold our measurements against."""

from __future__ import annotations

import importlib
import os
import re
import shutil
import subprocess
import wave

import pytest


def need(module):
    """The module; without it the tests are skipped with the reason, or fail where all must run."""
    if os.environ.get("CARDWRIGHT_REQUIRE_REAL"):
        return importlib.import_module(module)
    return pytest.importorskip(module, reason=f"{module} is not installed (extra `clip` or `test`)")


def ffmpeg(*arguments):
    """What FFmpeg says on its standard error."""
    tool = shutil.which("ffmpeg")
    if tool is None:
        assert not os.environ.get("CARDWRIGHT_REQUIRE_REAL"), "ffmpeg has to be installed here"
        pytest.skip("ffmpeg is not installed")
    done = subprocess.run(
        [tool, "-hide_banner", "-nostdin", "-y", *map(str, arguments)], capture_output=True, check=True
    )
    return done.stderr.decode(errors="replace")


def ebur128(path):
    """Integrated loudness and true peak of a file, by FFmpeg's filter."""
    said = ffmpeg("-i", path, "-af", "ebur128=peak=true", "-f", "null", "-")
    summary = said[said.rindex("Summary:") :]
    loudness = re.search(r"I:\s+(\S+) LUFS", summary)
    peak = re.search(r"Peak:\s+(\S+) dBFS", summary)
    return float(loudness[1]), float(peak[1])


def tone(decibels, seconds, *, rate=48000, frequency=1000, channels=2):
    """A sine as an array of n × channels; its peak is that many decibels under full scale."""
    np = need("numpy")
    times = np.arange(round(seconds * rate)) / rate
    one = 10 ** (decibels / 20) * np.sin(2 * np.pi * frequency * times)
    return np.repeat(one[:, None], channels, axis=1)


def write_wav(path, samples, rate, *, bits=16):
    """An array of n × channels as a WAV file."""
    np = need("numpy")
    scaled = np.round(np.clip(samples, -1, 1) * (2 ** (bits - 1) - 1))
    with wave.open(str(path), "wb") as file:
        file.setnchannels(samples.shape[1])
        file.setsampwidth(bits // 8)
        file.setframerate(rate)
        whole = scaled.astype("<i4")
        file.writeframes(
            whole.astype("<i2").tobytes() if bits == 16 else whole.view("u1").reshape(-1, 4)[:, :3].tobytes()
        )
    return path

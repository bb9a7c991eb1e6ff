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


def clicks(seconds, at, *, rate=48000, channels=2, level=0.9, ground=0.02):
    """A soft low tone with a click of a millisecond at each of those times."""
    samples = tone(0, seconds, rate=rate, frequency=200, channels=channels) * ground
    for time in at:
        samples[round(time * rate) : round(time * rate) + rate // 1000] = level
    return samples


def onsets(samples, rate, at, within=0.2):
    """For each of those times, how many seconds later (or, negative, sooner) the nearest click begins."""
    np = need("numpy")
    loud = np.abs(samples).max(axis=1)
    found = []
    for time in at:
        first = max(0, round((time - within) * rate))
        part = loud[first : round((time + within) * rate)]
        found.append((first + int(np.argmax(part > part.max() / 2))) / rate - float(time))
    return found


def mux_sound(path, tracks, *, pictures=None, codec="pcm_s16le"):
    """A Matroska file of pictures (RGB arrays with their times) and of tracks of sound.

    A track is (pieces, rate, title, default): pieces are (time in seconds, array of n × channels).
    """
    np = need("numpy")
    av = need("av")
    from fractions import Fraction

    with av.open(str(path), "w", format="matroska") as container:
        shown = None
        if pictures:
            height, width = pictures[0][1].shape[:2]
            shown = container.add_stream("ffv1", rate=100)
            shown.width, shown.height, shown.pix_fmt = width, height, "bgr0"
            shown.codec_context.time_base = Fraction(1, 1000)
        streams = []
        for pieces, rate, default in tracks:
            stream = container.add_stream(codec, rate=rate)
            stream.codec_context.layout = "mono" if pieces[0][1].shape[1] == 1 else "stereo"
            stream.codec_context.time_base = Fraction(1, rate)
            stream.disposition = av.stream.Disposition.default if default else av.stream.Disposition(0)
            streams.append(stream)
        packets = []
        for time, picture in pictures or []:
            frame = av.VideoFrame.from_ndarray(picture, format="rgb24").reformat(format="bgr0")
            frame.pts, frame.time_base = round(time * 1000), Fraction(1, 1000)
            packets += shown.encode(frame)
        if shown is not None:
            packets += shown.encode(None)
        for stream, (pieces, rate, _) in zip(streams, tracks, strict=True):
            layout = stream.codec_context.layout.name
            for time, samples in pieces:
                for at in range(0, len(samples), rate // 20):
                    part = np.round(samples[at : at + rate // 20] * 32767).astype(np.int16)
                    frame = av.AudioFrame.from_ndarray(part.reshape(1, -1), format="s16", layout=layout)
                    frame.sample_rate, frame.time_base = rate, Fraction(1, rate)
                    frame.pts = round(time * rate) + at
                    packets += stream.encode(frame)
            packets += stream.encode(None)
        for packet in sorted(packets, key=lambda each: each.dts * each.time_base):
            container.mux(packet)
    return path

"""True peak by ITU-R BS.1770 annex 2 against EBU Tech 3341's signals and FFmpeg's ebur128."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_samples import ebur128, need, write_wav

np = need("numpy")

from workbench.media.true_peak import PeakMeter, measure_true_peak  # noqa: E402


def faded(part, degrees, level=0.5, rate=48000):
    """A tone at that part of the rate, faded over 100 ms: an abrupt start would overshoot by itself."""
    at = np.arange(rate)
    fade = np.minimum(1, np.minimum(at, at[::-1]) / (rate / 10))
    return (level * np.sin(2 * np.pi * part * at + math.radians(degrees)) * fade)[:, None]


@pytest.mark.parametrize(
    ("part", "degrees", "level", "expected"),
    [
        (1 / 4, 0, 0.5, -6.0),
        (1 / 4, 45, 0.5, -6.0),
        (1 / 6, 60, 0.5, -6.0),
        (1 / 8, 67.5, 0.5, -6.0),
        (1 / 4, 45, 1.41, 3.0),
    ],
)
def test_the_signals_of_tech_3341(part, degrees, level, expected):
    """Cases 15 to 19: within +0.2 and -0.4 dB, however the samples lie."""
    measured = measure_true_peak(faded(part, degrees, level))
    assert -0.4 <= measured - expected <= 0.2


def test_between_the_samples():
    """A half-scale tone at a quarter of the rate, at 45 degrees: samples reach -9.03 dBFS only."""
    samples = faded(1 / 4, 45)
    assert 20 * math.log10(np.abs(samples).max()) == pytest.approx(-9.03, abs=0.01)
    assert measure_true_peak(samples) == pytest.approx(-6.02, abs=0.05)


@pytest.mark.parametrize("part", [1 / 4, 1 / 6, 0.3])
def test_as_ffmpeg_measures(part, tmp_path):
    """Within +0.2 and -0.4 dB of FFmpeg's ebur128."""
    samples = faded(part, 45)
    _, by_other = ebur128(write_wav(tmp_path / "tone.wav", samples, 48000))
    assert -0.4 <= measure_true_peak(samples) - by_other <= 0.2


@settings(max_examples=40, deadline=None)
@given(st.floats(0.01, 0.45), st.floats(0, 360))
def test_any_tone_reads_its_own_height(part, degrees):
    """Up to 0.45 of the rate, within +0.2 and -0.4 dB."""
    assert -0.4 <= measure_true_peak(faded(part, degrees, rate=8000)) + 6.02 <= 0.2


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 6000), max_size=8))
def test_pieces_do_not_matter(pieces):
    """Fed in any pieces, it finds the same peak; never one under the highest sample."""
    samples = np.random.default_rng(2).normal(0, 0.2, (9000, 2)).astype(np.float32)
    meter = PeakMeter(2)
    at = 0
    for length in pieces:
        meter.feed(samples[at : at + length])
        at = min(at + length, len(samples))
    meter.feed(samples[at:])
    assert meter.true_peak() == pytest.approx(measure_true_peak(samples), abs=1e-4)
    assert meter.true_peak() >= 20 * math.log10(np.abs(samples).max()) - 1e-6


def test_the_last_sample_counts():
    """A click at the very end, and one alone."""
    samples = np.zeros((500, 1))
    samples[-1] = 0.5
    assert measure_true_peak(samples) == pytest.approx(-6.02, abs=0.01)


def test_silence_has_no_peak():
    """Minus infinity, and no warning about it."""
    assert measure_true_peak(np.zeros((100, 2))) == -math.inf
    assert measure_true_peak(np.zeros((0, 2))) == -math.inf


@pytest.mark.parametrize("length", [1, 31, 32, 33, 63, 64, 65, 95, 96, 127])
def test_a_loud_end_reads_as_if_silence_followed(length):
    """Where the samples end within a span, no place of it is worked out without those that come after."""
    sound = np.random.default_rng(length).uniform(-0.1, 0.1, (length, 1)).astype(np.float32)
    sound[-1] = 0.9
    padded = np.concatenate([sound, np.zeros((200, 1), np.float32)])
    assert measure_true_peak(sound) == pytest.approx(measure_true_peak(padded), abs=1e-4)

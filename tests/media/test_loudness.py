"""Loudness by ITU-R BS.1770 against EBU Tech 3341's signals, FFmpeg's ebur128 and pyloudnorm."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sound_samples import ebur128, need, tone, write_wav

np = need("numpy")

from workbench.media.loudness import (  # noqa: E402
    LoudnessMeter,
    channel_weights,
    k_weighting,
    measure_loudness,
)

CASES = {
    "1": ([(-23, 20)], -23.0),
    "2": ([(-33, 20)], -33.0),
    "3": ([(-36, 10), (-23, 60), (-36, 10)], -23.0),
    "4": ([(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)], -23.0),
    "5": ([(-26, 20), (-20, 20.1), (-26, 20)], -23.0),
    "silence after": ([(-23, 5), (-400, 5)], -23.13),
}
"""EBU Tech 3341, 1 to 5 (1 kHz, stereo in phase), and one of our own."""


def signal(parts, rate=48000):
    return np.concatenate([tone(level, seconds, rate=rate) for level, seconds in parts])


@pytest.mark.parametrize("case", CASES)
def test_the_signals_of_tech_3341(case):
    """Within a tenth of what the document expects, and of pyloudnorm."""
    parts, expected = CASES[case]
    samples = signal(parts)
    measured = measure_loudness(samples, 48000)
    assert measured == pytest.approx(expected, abs=0.1)
    by_other = need("pyloudnorm").Meter(48000).integrated_loudness(samples)
    assert measured == pytest.approx(by_other, abs=0.1)


@pytest.mark.parametrize(
    ("case", "rate"), [("1", 48000), ("1", 44100), ("5", 48000), ("silence after", 22050), ("2", 32000)]
)
def test_as_ffmpeg_measures(case, rate, tmp_path):
    """Within a tenth of FFmpeg's ebur128, at other rates too."""
    samples = signal(CASES[case][0], rate)
    by_other, _ = ebur128(write_wav(tmp_path / "tone.wav", samples, rate))
    assert measure_loudness(samples, rate) == pytest.approx(by_other, abs=0.1)


@pytest.mark.parametrize("rate", [48000, 44100])
def test_noise_as_the_others_measure_it(rate, tmp_path):
    """Pink-like noise, that every part of the weighting works on."""
    white = np.random.default_rng(7).normal(0, 0.02, (rate * 6, 2))
    samples = np.clip(np.cumsum(white, axis=0) * 0.02 + white, -1, 1)
    measured = measure_loudness(samples, rate)
    assert measured == pytest.approx(need("pyloudnorm").Meter(rate).integrated_loudness(samples), abs=0.1)
    by_other, _ = ebur128(write_wav(tmp_path / "noise.wav", samples, rate))
    assert measured == pytest.approx(by_other, abs=0.1)


def test_surround_as_ffmpeg_measures(tmp_path):
    """5.1: surrounds weigh 1.41, the low effects nothing."""
    levels = (-30, -28, -26, -10, -24, -27)
    samples = np.concatenate(
        [tone(level, 5, channels=1, frequency=997 + 10 * at) for at, level in enumerate(levels)], axis=1
    )
    weights = channel_weights(("FL", "FR", "FC", "LFE", "SL", "SR"))
    assert weights == (1.0, 1.0, 1.0, 0.0, 1.41, 1.41)
    path = write_wav(tmp_path / "plain.wav", samples, 48000)
    from sound_samples import ffmpeg

    named = tmp_path / "named.wav"
    ffmpeg("-channel_layout", "5.1", "-i", path, "-c:a", "pcm_s16le", named)
    assert measure_loudness(samples, 48000, weights) == pytest.approx(ebur128(named)[0], abs=0.1)


def test_one_channel_is_three_decibels_quieter():
    """-23 dBFS on one channel is -26; full scale at 997 Hz is -3.01 (BS.1770)."""
    assert measure_loudness(tone(-23, 5, channels=1), 48000) == pytest.approx(-26.0, abs=0.1)
    full = measure_loudness(tone(0, 5, channels=1, frequency=997), 48000)
    assert full == pytest.approx(-3.01, abs=0.02)


def test_the_filters_are_those_of_the_standard():
    """The coefficients that BS.1770 prints for 48 kHz."""
    shelf, high_pass = k_weighting(48000)
    assert shelf[0] == pytest.approx((1.53512485958697, -2.69169618940638, 1.19839281085285), abs=1e-9)
    assert shelf[1] == pytest.approx((1, -1.69065929318241, 0.73248077421585), abs=1e-9)
    assert high_pass[0] == (1, -2, 1)
    assert high_pass[1] == pytest.approx((1, -1.99004745483398, 0.99007225036621), abs=1e-9)


@pytest.mark.parametrize(
    ("frequency", "gain"),
    [(38, -6.00), (100, -1.13), (500, 0.04), (1000, 0.70), (2000, 3.07), (10000, 4.04)],
)
@pytest.mark.parametrize("rate", [48000, 44100, 96000])
def test_gain_of_the_weighting(frequency, gain, rate):
    """What a tone of each height is raised by, computed from the printed filters; alike at other rates."""
    measured = measure_loudness(tone(-20, 3, rate=rate, frequency=frequency, channels=1), rate)
    assert measured + 20 + 3.0103 + 0.691 == pytest.approx(gain, abs=0.1)


@pytest.mark.parametrize("seconds", [0, 0.1, 0.39])
def test_under_400_ms_there_is_no_value(seconds):
    """Not one block is whole."""
    assert measure_loudness(tone(-20, seconds), 48000) is None


def test_silence_has_no_value():
    """Nothing passes the absolute gate."""
    assert measure_loudness(np.zeros((48000, 2)), 48000) is None
    assert measure_loudness(tone(-90, 2), 48000) is None


@settings(max_examples=25, deadline=None)
@given(st.lists(st.integers(1, 9000), max_size=12), st.sampled_from([8000, 11025, 44100]))
def test_pieces_do_not_matter(pieces, rate):
    """Fed in any pieces, it measures what it does in one."""
    samples = np.random.default_rng(1).normal(0, 0.1, (rate * 2, 2))
    meter = LoudnessMeter(rate, (1.0, 1.0))
    at = 0
    for length in pieces:
        meter.feed(samples[at : at + length])
        at = min(at + length, len(samples))
    meter.feed(samples[at:])
    assert meter.loudness() == pytest.approx(measure_loudness(samples, rate), abs=1e-6)


@settings(max_examples=20, deadline=None)
@given(st.floats(-12, 12))
def test_louder_by_as_much_as_it_is_made_louder(gain):
    """A gain in decibels is the same gain in LU, while the gates let the same through."""
    samples = tone(-30, 1)
    louder = measure_loudness(samples * 10 ** (gain / 20), 48000)
    assert louder == pytest.approx(measure_loudness(samples, 48000) + gain, abs=1e-6)

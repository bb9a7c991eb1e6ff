"""Without the extra, a WAV is cut and faded from a WAV, and everything else says what to install."""

from __future__ import annotations

import io
import sys
import wave
from array import array
from fractions import Fraction

import pytest

from workbench.errors import MediaError
from workbench.media.render_order import SoundFormat
from workbench.media.sound import render_sound
from workbench.media.sound_cut import SoundCut


@pytest.fixture(autouse=True)
def without_the_extra(monkeypatch):
    monkeypatch.setitem(sys.modules, "av", None)


def store(path, values, *, rate=8000, channels=1, width=2):
    with wave.open(str(path), "wb") as file:
        file.setnchannels(channels)
        file.setsampwidth(width)
        file.setframerate(rate)
        file.writeframes(array("h", values).tobytes())
    return path


def samples(rendered):
    with wave.open(io.BytesIO(rendered.encoded)) as file:
        return file.getparams()[:4], array("h", file.readframes(file.getnframes())).tolist()


def test_cut_and_filled_up(tmp_path):
    """Silence in front, the part that is shown, silence behind."""
    source = store(tmp_path / "a.wav", range(1, 8001))
    cut = SoundCut(Fraction(4, 8000), Fraction(9, 8000), Fraction(2, 8000), lead=Fraction(1, 8000))
    rendered = render_sound(source, cut, SoundFormat("wav", 8000, 1))
    assert samples(rendered) == ((1, 2, 8000, 4), [0, 10, 11, 0])
    assert (rendered.loudness, rendered.true_peak) == (None, None)
    assert "cardwright[clip]" in rendered.notes[0]


@pytest.mark.parametrize(("channels", "wanted", "stored"), [(1, 2, [6, 6, 8, 8]), (2, 1, [7])])
def test_one_channel_to_two_and_back(tmp_path, channels, wanted, stored):
    """Both get the same; or their middle."""
    source = store(tmp_path / "a.wav", [6, 8], channels=channels)
    cut = SoundCut(Fraction(2 // channels, 8000))
    assert samples(render_sound(source, cut, SoundFormat("wav", 8000, wanted)))[1] == stored


def test_faded(tmp_path):
    """In and out, evenly."""
    source = store(tmp_path / "a.wav", [100] * 8)
    form = SoundFormat("wav", 8000, 1, fade_in=Fraction(4, 8000), fade_out=Fraction(2, 8000))
    assert samples(render_sound(source, SoundCut(Fraction(8, 8000)), form))[1] == [
        0,
        25,
        50,
        75,
        100,
        100,
        50,
        0,
    ]


@pytest.mark.parametrize(
    ("form", "speed"),
    [(SoundFormat("mp3", 8000, 1), 1), (SoundFormat("wav", 44100, 1), 1), (SoundFormat("wav", 8000, 1), 2)],
)
def test_what_needs_the_extra_says_so(tmp_path, form, speed):
    """Other containers, rates and speeds."""
    source = store(tmp_path / "a.wav", [0] * 8)
    with pytest.raises(MediaError, match=r"pip install 'cardwright\[clip\]'"):
        render_sound(source, SoundCut(Fraction(1), speed=Fraction(speed)), form)


@pytest.mark.parametrize(
    "content", [b"", b"RIFF", b"ID3 no wav at all, but long enough to be looked at closely"]
)
def test_what_is_no_wav(tmp_path, content):
    """One sentence."""
    source = tmp_path / "a.wav"
    source.write_bytes(content)
    with pytest.raises(MediaError, match="cannot be read as a plain WAV"):
        render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav", 8000, 1))

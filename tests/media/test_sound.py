"""The sound of an animation: in time with the pictures and as long, as loud as wanted, in any format."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sound_samples import clicks, ebur128, ffmpeg, mux_sound, need, onsets, tone, write_wav

from workbench.errors import MediaError
from workbench.media.render_order import SoundFormat
from workbench.media.sound import render_sound
from workbench.media.sound_cut import SoundCut
from workbench.media.sound_source import find_sound

np, av = need("numpy"), need("av")

from workbench.media.loudness import measure_loudness  # noqa: E402
from workbench.media.sound_file import decode_sound, encode_sound  # noqa: E402
from workbench.media.sound_shape import fade_sound, split_speed  # noqa: E402

DELAY = 0.035
"""Seconds: the time between two frames that nothing may be off by."""
CONTAINERS = [("wav", 44100, 2), ("mp3", 44100, 2), ("mp3", 22050, 1), ("ogg", 48000, 2)]


def heard(rendered):
    """Samples and rate of the stored sound, as a player decodes it."""
    return decode_sound(rendered.encoded)


@pytest.fixture
def clicking(tmp_path):
    """Clicks at 1, 2 and 3 s of 4."""
    return write_wav(tmp_path / "clicks.wav", clicks(4, (1, 2, 3)), 48000)


@pytest.mark.parametrize(("container", "rate", "channels"), CONTAINERS)
@pytest.mark.parametrize("speed", [Fraction(1), Fraction(3, 2), Fraction(1, 3)])
def test_what_is_heard_is_heard_in_time(clicking, container, rate, channels, speed):
    """At any speed and in any format, behind a silence in front; the file is as long as the frames."""
    lead, total = Fraction(1, 4), 4 / speed + Fraction(1, 4)
    rendered = render_sound(
        clicking, SoundCut(total, speed=speed, lead=lead), SoundFormat(container, rate, channels)
    )
    samples, stored_rate = heard(rendered)
    assert (stored_rate, samples.shape[1]) == (rate, channels)
    assert abs(len(samples) / rate - total) < DELAY / 2
    apart = onsets(samples, rate, [second / speed + lead for second in (1, 2, 3)])
    assert max(map(abs, apart)) < (0.002 if speed == 1 else DELAY / 2)


@pytest.mark.parametrize(
    ("container", "rate", "channels"),
    [("mp3", 22050, 1)] + [pytest.param(*each, marks=pytest.mark.sweep) for each in CONTAINERS],
)
def test_a_minute_later_it_is_still_in_time(tmp_path, container, rate, channels):
    """Nothing adds up over 60 seconds."""
    source = write_wav(tmp_path / "long.wav", clicks(60, (1, 30, 59), rate=22050, channels=1), 22050)
    samples, _ = heard(render_sound(source, SoundCut(Fraction(60)), SoundFormat(container, rate, channels)))
    assert max(map(abs, onsets(samples, rate, (1, 30, 59)))) < 0.002
    assert abs(len(samples) / rate - 60) < DELAY / 2


def test_only_the_part_that_is_shown(clicking):
    """From 1.5 s on for 1 s; what follows is silence."""
    cut = SoundCut(Fraction(2), begin=Fraction(3, 2), length=Fraction(1))
    samples, rate = heard(render_sound(clicking, cut, SoundFormat("wav")))
    assert abs(onsets(samples, rate, [0.5])[0]) < 0.002
    assert np.abs(samples[:rate]).max() > 0.5
    assert np.abs(samples[rate + rate // 50 :]).max() == 0


def test_a_sound_that_begins_after_the_picture(tmp_path):
    """Its first time stamp is 0.4 s behind the picture's: that much silence goes in front."""
    source = mux_sound(tmp_path / "late.mkv", [([(Fraction(14, 10), clicks(1, [0.5]))], 48000, True)])
    samples, rate = heard(render_sound(source, SoundCut(Fraction(2), begin=Fraction(1)), SoundFormat("wav")))
    assert np.abs(samples[: round(0.39 * rate)]).max() == 0
    assert abs(onsets(samples, rate, [0.9])[0]) < 0.002


def test_a_sound_that_begins_before_the_picture(tmp_path):
    """What was to be heard before the first picture is left out."""
    source = mux_sound(tmp_path / "soon.mkv", [([(Fraction(0), clicks(2, [1.5]))], 48000, True)])
    samples, rate = heard(render_sound(source, SoundCut(Fraction(1), begin=Fraction(1)), SoundFormat("wav")))
    assert abs(onsets(samples, rate, [0.5])[0]) < 0.002


def test_a_gap_in_the_time_stamps_is_silence(tmp_path):
    """A second is missing: what comes after it is heard a second later."""
    pieces = [(Fraction(0), clicks(1, [0.5])), (Fraction(2), clicks(1, [0.5]))]
    source = mux_sound(tmp_path / "gap.mkv", [(pieces, 48000, True)])
    samples, rate = heard(render_sound(source, SoundCut(Fraction(3)), SoundFormat("wav")))
    assert max(map(abs, onsets(samples, rate, [0.5, 2.5]))) < 0.002
    assert np.abs(samples[round(1.05 * rate) : round(1.95 * rate)]).max() == 0


def test_of_several_streams_the_default_one(tmp_path):
    """Whichever stands first."""
    low, high = ([(Fraction(0), tone(-20, 1, frequency=hertz))] for hertz in (500, 3000))
    source = mux_sound(tmp_path / "two.mkv", [(low, 48000, False), (high, 48000, True)])
    samples, rate = heard(render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2)))
    spectrum = np.abs(np.fft.rfft(samples[:, 0]))
    assert spectrum.argmax() * rate / len(samples) == pytest.approx(3000, abs=5)


def test_a_cover_picture_in_a_sound_file_is_no_trouble(tmp_path):
    """Attached art is a video stream to libav; only the sound is read."""
    from PIL import Image

    Image.new("RGB", (40, 40), "red").save(tmp_path / "cover.png")
    source = write_wav(tmp_path / "plain.wav", clicks(1, [0.5]), 48000)
    with_cover = tmp_path / "cover.mp3"
    ffmpeg(
        "-i",
        source,
        "-i",
        tmp_path / "cover.png",
        "-map",
        "0",
        "-map",
        "1",
        "-disposition:v",
        "attached_pic",
        with_cover,
    )
    assert find_sound(with_cover) == (48000, 2)
    samples, rate = heard(render_sound(with_cover, SoundCut(Fraction(1)), SoundFormat("wav")))
    assert abs(onsets(samples, rate, [0.5])[0]) < 0.003


@pytest.mark.parametrize("kind", ["flac", "m4a", "ogg", "opus", "aiff", "mka"])
def test_any_sound_that_libav_reads(tmp_path, kind):
    """In time whatever an encoder put in front."""
    source = tmp_path / f"sound.{kind}"
    ffmpeg("-i", write_wav(tmp_path / "plain.wav", clicks(2, [1]), 48000), "-strict", "-2", source)
    samples, rate = heard(render_sound(source, SoundCut(Fraction(2)), SoundFormat("wav")))
    assert abs(onsets(samples, rate, [1])[0]) < 0.003


@pytest.mark.parametrize(("container", "rate", "channels"), CONTAINERS)
def test_levelled_to_the_wanted_loudness(tmp_path, container, rate, channels):
    """As measured on the stored file, by FFmpeg's ebur128 too."""
    source = write_wav(tmp_path / "tone.wav", tone(-30, 3), 48000)
    rendered = render_sound(
        source, SoundCut(Fraction(3)), SoundFormat(container, rate, channels, Fraction(-18))
    )
    assert rendered.loudness == pytest.approx(-18, abs=0.1)
    assert rendered.notes == ()
    path = tmp_path / f"made.{container}"
    path.write_bytes(rendered.encoded)
    loudness, peak = ebur128(path)
    assert rendered.loudness == pytest.approx(loudness, abs=0.1)
    assert -0.4 <= rendered.true_peak - peak <= 0.2


@pytest.mark.parametrize(("container", "rate", "channels"), CONTAINERS)
def test_the_peak_is_held_as_it_is_played(tmp_path, container, rate, channels):
    """Square waves overshoot in every lossy encoder; the stored sound stays under -1 dBTP, and it is said."""
    beat = np.sign(tone(0, 2, frequency=440)) * (0.2 + 0.8 * (np.arange(96000) % 24000 < 2000))[:, None]
    source = write_wav(tmp_path / "square.wav", beat, 48000)
    rendered = render_sound(
        source, SoundCut(Fraction(2)), SoundFormat(container, rate, channels, Fraction(-3))
    )
    assert rendered.true_peak <= -1
    path = tmp_path / f"made.{container}"
    path.write_bytes(rendered.encoded)
    assert ebur128(path)[1] <= -0.8
    assert "its true peak would go over −1 dBTP" in rendered.notes[0]


def test_a_kept_loudness_is_only_lowered_for_the_peak(tmp_path):
    """No loudness was asked for: left alone, unless it peaks."""
    calm = write_wav(tmp_path / "calm.wav", tone(-20, 1), 48000)
    rendered = render_sound(calm, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2))
    assert (rendered.notes, rendered.loudness) == ((), pytest.approx(-20, abs=0.1))
    loud = write_wav(tmp_path / "loud.wav", tone(0, 1), 48000)
    rendered = render_sound(loud, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2))
    assert rendered.true_peak == pytest.approx(-1, abs=0.05)
    assert "1.0 dB quieter" in rendered.notes[0]


def test_a_sound_too_short_to_measure_is_stored_all_the_same(tmp_path):
    """Under 400 ms there is no loudness; that is said."""
    source = write_wav(tmp_path / "short.wav", tone(-20, 0.3), 48000)
    rendered = render_sound(source, SoundCut(Fraction(3, 10)), SoundFormat("mp3", loudness=Fraction(-16)))
    assert rendered.loudness is None
    assert "too short" in rendered.notes[0]


def test_silence_is_said_to_be_silent(tmp_path):
    """No gain makes anything of it."""
    source = write_wav(tmp_path / "still.wav", np.zeros((48000, 2)), 48000)
    rendered = render_sound(source, SoundCut(Fraction(1)), SoundFormat("mp3", loudness=Fraction(-16)))
    assert (rendered.loudness, rendered.true_peak) == (None, None)
    assert "silent" in rendered.notes[0]


def test_fades_begin_after_the_silence_in_front(tmp_path):
    """In from the first sound, out to the last sample."""
    source = write_wav(tmp_path / "tone.wav", tone(-10, 3), 48000)
    form = SoundFormat("wav", 48000, 2, fade_in=Fraction(1), fade_out=Fraction(1))
    samples, rate = heard(render_sound(source, SoundCut(Fraction(4), lead=Fraction(1)), form))
    level = [np.abs(samples[round(at * rate) : round(at * rate) + 480]).max() for at in (0.5, 1.5, 2.5, 3.5)]
    full = 10 ** (-10 / 20)
    assert level == pytest.approx([0, full / 2, full, full / 2], abs=0.01)


@pytest.mark.parametrize("container", ["wav", "mp3", "ogg"])
def test_the_same_sound_gives_the_same_bytes(clicking, container):
    """So that a second render replaces nothing on a card."""
    made = [render_sound(clicking, SoundCut(Fraction(1)), SoundFormat(container)).encoded for _ in range(2)]
    assert made[0] == made[1]


def test_one_channel_in_an_ogg_file(clicking):
    """Where the encoder knows two channels only, both carry the same, and that is said."""
    rendered = render_sound(clicking, SoundCut(Fraction(1)), SoundFormat("ogg", 44100, 1))
    samples, _ = heard(rendered)
    assert samples.shape[1] == 1 or ("both carry the same" in rendered.notes[-1])


def hostile(folder, kind, clicking):
    path = folder / f"{kind}.mp3"
    if kind == "text":
        path.write_text("no sound at all\n" * 50)
    elif kind == "empty":
        path.write_bytes(b"")
    elif kind == "picture":
        from PIL import Image

        Image.new("RGB", (8, 8)).save(path, "PNG")
    elif kind == "header":
        path.write_bytes(clicking.read_bytes()[:44])
    elif kind == "no pictures' sound":
        path = mux_sound(folder / "mute.mkv", [], pictures=[(0, np.zeros((16, 16, 3), np.uint8))])
    return path


@pytest.mark.parametrize("kind", ["text", "empty", "picture", "header", "no pictures' sound", "absent"])
def test_what_has_no_sound_is_refused_in_one_sentence(tmp_path, clicking, kind):
    """With the file's name, and no traceback of a library."""
    source = hostile(tmp_path, kind, clicking)
    with pytest.raises(MediaError) as caught:
        render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav"))
    assert source.name in caught.value.message
    assert "\n" not in caught.value.message


def test_a_torn_file_is_heard_as_far_as_it_goes(tmp_path, clicking):
    """The rest is silence."""
    made = render_sound(clicking, SoundCut(Fraction(4)), SoundFormat("mp3")).encoded
    torn = tmp_path / "torn.mp3"
    torn.write_bytes(made[: len(made) // 2] + b"\0" * 100)
    samples, rate = heard(render_sound(torn, SoundCut(Fraction(4)), SoundFormat("wav")))
    assert abs(onsets(samples, rate, [1])[0]) < 0.01
    assert len(samples) == 4 * rate


def test_a_part_without_sound_is_silence(clicking):
    """Nothing is left at that time; that is said."""
    rendered = render_sound(clicking, SoundCut(Fraction(1), begin=Fraction(10)), SoundFormat("wav"))
    assert "has no sound in the part that is shown" in rendered.notes[0]


@pytest.mark.parametrize(
    ("form", "words"),
    [(SoundFormat("mp3", 96000), "nearest is 48,000"), (SoundFormat("wav", 44100, 6), "one or two")],
)
def test_what_no_encoder_can_store(clicking, form, words):
    """One sentence with what could be."""
    with pytest.raises(MediaError, match=words):
        render_sound(clicking, SoundCut(Fraction(1)), form)


def test_too_long_a_sound_is_refused(clicking):
    """All of it is held in memory."""
    with pytest.raises(MediaError, match="too long"):
        render_sound(clicking, SoundCut(Fraction(601)), SoundFormat("wav"))


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.integers(1, 9000), st.sampled_from([8000, 11025, 22050, 44100, 48000]), st.sampled_from([1, 2]))
def test_an_mp3_is_as_long_as_its_sound(count, rate, channels):
    """Within half a frame; the samples stand where they stood."""
    samples = tone(-12, count / rate, rate=rate, frequency=rate / 40, channels=channels)[:count]
    stored, stored_rate = decode_sound(encode_sound(samples, rate, "mp3"), "mp3")
    assert (stored_rate, stored.shape[1]) == (rate, channels)
    frame = 1152 if rate >= 32000 else 576
    assert abs(len(stored) - count) <= max(frame // 2, 2 * frame - count)
    if count > 4 * frame:
        part = slice(2 * frame, count // frame * frame - frame)
        error = stored[part] - samples[part]
        assert np.square(error).mean() < 0.01 * np.square(samples[part]).mean()


@settings(deadline=None)
@given(st.integers(0, 400), st.fractions(0, 1, max_denominator=50), st.fractions(0, 1, max_denominator=50))
def test_a_fade_never_makes_anything_louder(count, fade_in, fade_out):
    """Whatever the lengths, also longer than the sound."""
    samples = np.ones((count, 2), np.float32)
    fade_sound(samples, 200, fade_in, fade_out)
    assert ((samples >= 0) & (samples <= 1)).all()
    if count and fade_out * 200 >= 1:
        assert samples[-1].max() == 0


@settings(deadline=None)
@given(st.fractions(Fraction(1, 50), Fraction(500), max_denominator=1000))
def test_speeds_in_a_row_make_the_whole(speed):
    """Each within what the filter can do."""
    whole = Fraction(1)
    for part in split_speed(speed):
        assert Fraction(1, 2) <= part <= 100
        whole *= part
    assert abs(whole - speed) <= speed / 5000


@pytest.mark.parametrize("channels", [1, 2, 3, 4, 5, 6, 7, 8, 9, 16])
def test_any_number_of_channels(tmp_path, channels):
    """In the usual arrangement where the file names none; two channels stay as they are, to the last bit."""
    mono = clicks(1, [0.5], channels=1) / 8
    source = write_wav(tmp_path / "many.wav", np.repeat(mono, channels, axis=1), 48000)
    samples, rate = heard(render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2)))
    assert abs(onsets(samples, rate, [0.5])[0]) < 0.002
    if channels == 2:
        assert np.abs(samples - mono).max() < 1e-4


@pytest.mark.parametrize("kind", ["pcm_u8", "pcm_s24le", "pcm_s32le", "pcm_f32le", "pcm_f64le", "pcm_alaw"])
def test_any_kind_of_sample(tmp_path, kind):
    """Unsigned, signed and floating, to the same level."""
    plain, source = write_wav(tmp_path / "plain.wav", tone(-12, 1), 48000), tmp_path / "other.wav"
    ffmpeg("-i", plain, "-c:a", kind, source)
    samples, _ = heard(render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2)))
    assert np.abs(samples - tone(-12, 1)).max() < 0.02


@pytest.mark.parametrize("kind", ["mkv", "m4a", "flac", "mp3", "ogg"])
def test_far_into_a_long_file(tmp_path, kind):
    """It seeks there, and is still in time: MP3, which only guesses where that is, is read from its
    beginning."""
    source = tmp_path / f"long.{kind}"
    codec = ("-c:a", "flac") if kind == "mkv" else ()
    plain = write_wav(tmp_path / "plain.wav", clicks(34, [32], rate=16000, channels=1), 16000)
    ffmpeg("-i", plain, *codec, source)
    cut = SoundCut(Fraction(2), begin=Fraction(31))
    samples, rate = heard(render_sound(source, cut, SoundFormat("wav", 16000, 1)))
    # On the clock of an MP3 its own first 1105 samples count: its sound begins that much after zero.
    late = 1105 / 16000 if kind == "mp3" else 0
    assert abs(onsets(samples, rate, [1])[0] - late) < 0.006


def test_a_rate_that_changes_on_the_way():
    """Streams may do so; each part is heard at its own."""
    from workbench.media.sound_shape import shape_sound
    from workbench.media.sound_source import SoundPiece

    parts = [(48000, "stereo"), (22050, "mono"), (44100, "stereo")]
    pieces = [
        SoundPiece(
            tone(-6, 1, rate=rate, channels=1 + (layout == "stereo")).T.astype(np.float32), rate, layout
        )
        for rate, layout in parts
    ]
    shaped = shape_sound(pieces, 32000, 1, Fraction(1), 3 * 32000)
    spectrum = np.abs(np.fft.rfft(shaped[:, 0]))
    assert spectrum.argmax() / 3 == pytest.approx(1000, abs=1)
    assert np.abs(shaped[-3200:]).max() > 0.3


@pytest.mark.parametrize(("rate", "channels"), [(8000, 1), (22050, 2), (44100, 1), (44100, 2)])
def test_an_mp3_is_as_loud_as_what_it_was_made_of(rate, channels):
    """The encoder turns everything down a little; that is undone, so that one encoding is enough."""
    samples = tone(-20, 3, rate=rate, channels=channels)
    stored, _ = decode_sound(encode_sound(samples, rate, "mp3"))
    assert measure_loudness(stored, rate) == pytest.approx(measure_loudness(samples, rate), abs=0.08)


def test_numbers_that_are_none_are_silence(tmp_path):
    """Damaged floating-point sound, infinite or no number at all, does not spoil what follows."""
    damaged = tone(-12, 1).astype("<f4")
    damaged[100:110], damaged[200] = np.nan, np.inf
    raw, source = tmp_path / "damaged.raw", tmp_path / "damaged.wav"
    raw.write_bytes(damaged.tobytes())
    ffmpeg("-f", "f32le", "-ar", "48000", "-ac", "2", "-i", raw, "-c:a", "copy", source)
    samples, _ = heard(render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav", 48000, 2)))
    assert np.abs(samples[4800:] - tone(-12, 1)[4800:]).max() < 0.001


@pytest.mark.parametrize("rate", [1, 2_000_000_000])
def test_a_claimed_rate_that_no_sound_has_is_refused_at_once(tmp_path, clicking, rate):
    """Resampling from it would never end."""
    source = tmp_path / "claims.wav"
    raw = bytearray(clicking.read_bytes())
    raw[24:28] = rate.to_bytes(4, "little")
    source.write_bytes(raw)
    with pytest.raises(MediaError, match="samples a second"):
        render_sound(source, SoundCut(Fraction(1)), SoundFormat("wav"))


def test_sound_that_is_as_wanted_stays_as_it_is():
    """Sample for sample, also what stands in front of a piece of another rate."""
    from workbench.media.sound_shape import shape_sound
    from workbench.media.sound_source import SoundPiece

    drawn = np.random.default_rng(3).uniform(-0.5, 0.5, (2, 8000)).astype(np.float32)
    pieces = [SoundPiece(drawn[:, :5000], 8000, "stereo"), SoundPiece(drawn[:, 5000:], 8000, "stereo")]
    assert np.array_equal(shape_sound(pieces, 8000, 2, Fraction(1), 8000), drawn.T)
    later = [pieces[0], SoundPiece(np.full((2, 6000), 0.25, np.float32), 16000, "stereo")]
    shaped = shape_sound(later, 8000, 2, Fraction(1), 8000)
    assert np.array_equal(shaped[:5000], drawn.T[:5000])
    assert shaped[5500:7500] == pytest.approx(0.25, abs=0.01)

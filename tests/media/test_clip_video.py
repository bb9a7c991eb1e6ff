"""Videos become the frames that the ffmpeg command makes of them, at the times that were asked for."""

from __future__ import annotations

from fractions import Fraction

import pytest
from clip_samples import (
    NTSC,
    frames_by_ffmpeg,
    likeness,
    read_frame,
    run_ffmpeg,
    write_timed_clip,
)

from workbench.errors import MediaError

np = pytest.importorskip("numpy", reason="numpy is not installed (extra `clip`)")
av = pytest.importorskip("av", reason="av is not installed (extra `clip`)")

PAD = "pad=320:240:(ow-iw)/2:(oh-ih)/2"
BWDIF = "bwdif=mode=send_frame:deint=interlaced,"
CENTRE = (24, 32)


def scaled(size, before=""):
    return f"{before}scale={size}:flags=bicubic+accurate_rnd,{PAD}"


@pytest.mark.parametrize(
    ("name", "filters", "delay"),
    [
        ("plain.mp4", scaled("320:192"), NTSC),
        ("odd.mkv", scaled("320:193"), Fraction(1, 25)),
        ("ten.mkv", scaled("320:192"), Fraction(1, 25)),
        ("wide.mp4", scaled("320:144"), Fraction(1, 25)),
        ("full.mp4", scaled("320:192"), Fraction(1, 25)),
        ("hd.mp4", scaled("320:192"), Fraction(1, 25)),
        ("turned90.mp4", scaled("144:240"), NTSC),
        ("turned180.mp4", scaled("320:192"), NTSC),
        ("turned270.mp4", scaled("144:240"), NTSC),
        ("fields.mpg", scaled("320:192", BWDIF), Fraction(1, 25)),
    ],
)
def test_frames_are_those_of_the_ffmpeg_command(name, filters, delay, clip, render, tmp_path):
    """At least 50 dB (two libswscale versions), most of them bit for bit; the numbers of frames agree."""
    report, folder = render(clip(name), (320, 240), delay)
    theirs = frames_by_ffmpeg(clip(name), filters, tmp_path / "theirs")
    ours = [read_frame(folder / file.name) for file in report.frames]
    assert len(ours) == len(theirs) == report.count
    # A deinterlacer's first picture has no field before it, and versions differ in what they take instead.
    compared = list(zip(ours, theirs, strict=True))[1 if "fields" in name else 0 :]
    assert min(likeness(one, other) for one, other in compared) >= 50


@pytest.mark.parametrize(
    ("matrix", "size"),
    [
        ((-1, 0, 0, 1), "320:192"),
        ((1, 0, 0, -1), "320:192"),
        ((0, 1, 1, 0), "144:240"),
        ((0, -1, -1, 0), "144:240"),
        ((-1, 0, 0, -1), "320:192"),
        ((0, 1, -1, 0), "144:240"),
    ],
)
def test_mirrored_pictures_are_set_upright_as_ffmpeg_does(matrix, size, clip, render, tmp_path):
    """Every quarter turn and mirroring that a display matrix can say, bit for bit."""
    a, b, c, d = (each << 16 for each in matrix)
    path = tmp_path / "mirrored.mp4"
    with av.open(str(clip("plain.mp4"))) as source, av.open(str(path), "w") as target:
        stream = target.add_stream_from_template(source.streams.video[0])
        stream.set_display_matrix((a, b, 0, c, d, 0, 0, 0, 1 << 30))
        for packet in source.demux(source.streams.video[0]):
            if packet.size:
                packet.stream = stream
                target.mux(packet)
    report, folder = render(path, (320, 240), NTSC, length=Fraction(1, 10))
    theirs = frames_by_ffmpeg(path, scaled(size), tmp_path / "theirs")
    ours = [read_frame(folder / file.name) for file in report.frames]
    assert min(likeness(*pair) for pair in zip(ours, theirs, strict=False)) >= 50


@pytest.mark.parametrize(
    ("name", "known"),
    [
        ("plain.mp4", {"width": 160, "height": 96, "rate": Fraction(30000, 1001), "frames": 15, "bits": 8}),
        ("odd.mkv", {"width": 161, "height": 97, "variable": False}),
        ("wide.mp4", {"width": 213, "height": 96}),
        ("ten.mkv", {"bits": 10}),
        ("turned90.mp4", {"width": 96, "height": 160}),
        ("turned180.mp4", {"width": 160, "height": 96, "rotation": 180}),
        ("fields.mpg", {"interlaced": True}),
        ("clear.mkv", {"alpha": True}),
        ("clear.webm", {"alpha": True}),
        ("pq.mkv", {"hdr": "PQ", "bits": 10}),
        ("tone.mp4", {"sound": (44100, 1 + 1), "duration": Fraction(1)}),
    ],
)
def test_what_a_video_says_of_itself(name, known, clip, render):
    """Sizes as shown, the exact rate, and everything that needs care."""
    facts = render(clip(name))[0].facts
    assert {key: getattr(facts, key) for key in known} == known


@pytest.mark.parametrize("shift", [0, 5000])
def test_a_variable_rate_is_looked_up_by_time(shift, render, tmp_path, clip):
    """A worked table, read back from the frames' greys; a clip that begins late begins at its first pts."""
    clip("plain.mp4")
    path = write_timed_clip(tmp_path / "v.mkv", [shift + due for due in (0, 33, 67, 150, 200, 217, 300)])
    report, folder = render(path, (32, 32))
    greys = [int(read_frame(folder / file.name)[16, 16, 0]) for file in report.frames]
    assert [grey // 10 - 1 for grey in greys] == [0, 1, 2, 2, 3, 4, 5, 5, 6]
    assert report.facts.variable


def test_times_rounded_to_milliseconds_show_every_picture(render, tmp_path, clip):
    """Matroska rounds 66.7 to 67 ms; asked at 66.7 ms, the picture is the one meant for then."""
    clip("plain.mp4")
    path = write_timed_clip(tmp_path / "v.mkv", [round(index * 1001 / 30) for index in range(12)])
    report, folder = render(path, (32, 32), NTSC, length=12 * NTSC)
    greys = [int(read_frame(folder / file.name)[16, 16, 0]) // 10 - 1 for file in report.frames]
    assert greys == list(range(12))


def test_a_stream_without_times_is_shown_at_its_rate(render, tmp_path, clip):
    """Bare H.264 has no times at all: picture after picture, each for its share of a second."""
    run_ffmpeg("-i", str(clip("hd.mp4")), "-c", "copy", str(tmp_path / "bare.h264"))
    report, folder = render(tmp_path / "bare.h264", (160, 96))
    theirs = frames_by_ffmpeg(clip("hd.mp4"), "scale=160:96:flags=bicubic+accurate_rnd", tmp_path / "theirs")
    ours = [read_frame(folder / file.name) for file in report.frames]
    assert [likeness(*pair) for pair in zip(ours, theirs, strict=True)] == [99] * 8
    assert report.notes == ()


def test_a_late_start_shows_what_decoding_from_the_beginning_shows(render, tmp_path, clip):
    """After a jump to 3 s the first frame is the picture of 3 s, not that of the key frame before."""
    clip("plain.mp4")
    long = tmp_path / "long.mp4"
    words = ["-c:v", "libx264", "-preset", "ultrafast", "-g", "40"]
    run_ffmpeg("-f", "lavfi", "-i", "testsrc2=s=64x48:r=25", "-t", "4", *words, str(long))
    report, folder = render(long, start=Fraction(3), length=Fraction(1, 5))
    theirs = frames_by_ffmpeg(
        long, r"select=between(n\,75\,79),scale=64:48:flags=bicubic+accurate_rnd", tmp_path / "theirs"
    )
    ours = [read_frame(folder / file.name) for file in report.frames]
    assert [likeness(*pair) for pair in zip(ours, theirs, strict=True)] == [99] * 5


@pytest.mark.parametrize("name", ["clear.mkv", "clear.webm"])
def test_what_is_see_through_shows_the_background(name, clip, render):
    """The left half is clear: exactly the background; the right half is red. VP9 keeps it apart."""
    report, folder = render(clip(name), (64, 48), background=(10, 200, 30))
    frame = read_frame(folder / report.frames[0].name).astype(int)
    assert frame[20, 5].tolist() == [10, 200, 30]
    assert np.abs(frame[20, 60] - (255, 0, 0)).max() <= 3


def test_high_dynamic_range_is_brought_down(clip, render):
    """PQ's 10,000 cd/m2 white is plain white here, not grey and not wrapped round; a note says so."""
    report, folder = render(clip("pq.mkv"))
    assert read_frame(folder / report.frames[0].name).min() >= 250
    assert "high dynamic range (PQ)" in report.notes[0]


def test_crop_cover_turn_and_bars(clip, render):
    """A crop of the middle, turned for the panel: stored 48 wide and 64 high, with bars beside."""
    report, folder = render(clip("plain.mp4"), crop=(40, 24, 40, 40), rotate=90, background=(9, 8, 7))
    frame = read_frame(folder / report.frames[0].name)
    assert frame.shape == (64, 48, 3)
    assert (frame[:8] == (9, 8, 7)).all() and (frame[-8:] == (9, 8, 7)).all()
    assert not (frame[8] == (9, 8, 7)).all()


def test_a_video_without_sound_gives_none_and_sound_without_picture_is_refused(clip, render):
    """Silence is no error; a sound file is, in a sentence that names it."""
    from workbench.media.render_order import SoundFormat

    assert render(clip("plain.mp4"), audio=SoundFormat())[0].sound is None


def test_sound_without_a_picture_is_refused(clip, render):
    """One sentence, with the file's name and what to do."""
    with pytest.raises(MediaError, match=r"tone\.mp3 is not used: it holds sound but no moving picture"):
        render(clip("tone.mp3"))


def test_the_sound_is_as_long_as_the_frames(clip, render):
    """A WAV beside the frames holds exactly count × delay of samples."""
    import wave

    from workbench.media.render_order import SoundFormat

    delay = Fraction(35, 1000)
    report, folder = render(clip("tone.mp4"), delay=delay, audio=SoundFormat("wav", 8000, 1))
    with wave.open(str(folder / report.sound.name)) as sound:
        assert sound.getnframes() == round(report.count * delay * 8000)
    assert abs(report.drift_ours_ms) < 35


def test_a_note_tells_where_a_clip_breaks_off(clip, render, tmp_path):
    """Half a Matroska file still shows its first half, and says what is missing."""
    run_ffmpeg("-i", str(clip("tone.mp4")), "-c", "copy", str(tmp_path / "whole.mkv"))
    whole = (tmp_path / "whole.mkv").read_bytes()
    (tmp_path / "half.mkv").write_bytes(whole[: len(whole) // 2])
    report, _ = render(tmp_path / "half.mkv")
    assert 1 <= report.count < 25
    assert any("breaks off" in note for note in report.notes)

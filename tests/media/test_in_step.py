"""Flashes and clicks at the same times in a clip come out at the same times, as a device plays them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from PIL import Image
from sound_samples import clicks, mux_sound, need, onsets, write_wav

from workbench.media.render_order import RenderOrder, SoundFormat

np, av = need("numpy"), need("av")

from workbench.media.rendering import render  # noqa: E402
from workbench.media.sound_file import decode_sound  # noqa: E402

MARKS = (Fraction(1, 2), Fraction(13, 10), Fraction(27, 10))
"""Seconds after the first picture at which it flashes and clicks."""
HELD = Fraction(1, 5)


@pytest.fixture(scope="module")
def clip(tmp_path_factory):
    """A clip whose pictures come at odd times, from 0.4 s on; its sound begins 0.25 s before them."""
    first = Fraction(4, 10)
    moments = {Fraction(number, 15) for number in range(60)} | {Fraction(7, 100), Fraction(71, 100)}
    moments |= set(MARKS) | {mark + HELD for mark in MARKS}
    pictures = []
    for time in sorted(moments):
        is_lit = any(mark <= time < mark + HELD for mark in MARKS)
        pictures.append((time + first, np.full((48, 64, 3), 255 if is_lit else 0, np.uint8)))
    lead = Fraction(1, 4)
    track = [(first - lead, clicks(5, [mark + lead for mark in MARKS]))]
    return mux_sound(tmp_path_factory.mktemp("clip") / "odd.mkv", [(track, 48000, True)], pictures=pictures)


def play(order, folder):
    """When the first frame of each flash is shown, by the device's delay; the sound; and the report."""
    report = render(order, folder, lambda _done, _total: None)
    lit = []
    for frame in report.frames:
        with Image.open(folder / frame.name) as picture:
            lit.append(picture.convert("L").getpixel((8, 8)) > 128)
    begins = [index * order.delay for index, now in enumerate(lit) if now and not lit[max(0, index - 1)]]
    samples, rate = decode_sound((folder / report.sound.name).read_bytes(), order.audio.container)
    return begins, samples, rate, report


@pytest.mark.parametrize(
    "form", [SoundFormat("mp3", 44100, 2), SoundFormat("wav", 22050, 1), SoundFormat("ogg", 48000)]
)
@pytest.mark.parametrize(
    ("delay", "speed", "hold"),
    [
        (Fraction(35, 1000), Fraction(1), Fraction(0)),
        (Fraction(1001, 30000), Fraction(1), Fraction(3, 10)),
        (Fraction(42, 1000), Fraction(3, 2), Fraction(0)),
        (Fraction(50, 1000), Fraction(1, 2), Fraction(1, 10)),
    ],
)
def test_a_flash_and_its_click_are_less_than_a_delay_apart(clip, tmp_path, form, delay, speed, hold):
    """A frame may come up to one delay after its moment, the sound at that moment; both end together."""
    order = RenderOrder(clip, (64, 48), delay, audio=form, speed=speed, hold_start=hold)
    begins, samples, rate, report = play(order, tmp_path)
    expected = [mark / speed + hold for mark in MARKS]
    apart = onsets(samples, rate, expected)
    assert len(begins) == len(MARKS)
    for begin, moment, late in zip(begins, expected, apart, strict=True):
        assert 0 <= begin - moment < delay
        assert abs(float(begin - moment) - late) < delay
    assert abs(len(samples) / rate - float(report.length)) < delay
    assert 0 <= report.drift_ours_ms < delay * 1000


def test_from_the_middle_of_a_clip(clip, tmp_path):
    """What begins later, and ends sooner, stays in step; nothing of what was cut off is heard."""
    order = RenderOrder(
        clip, (64, 48), Fraction(35, 1000), audio=SoundFormat("mp3"), start=Fraction(1), length=Fraction(2)
    )
    begins, samples, rate, _ = play(order, tmp_path)
    assert [float(begin) for begin in begins] == pytest.approx([0.315, 1.715])
    assert max(map(abs, onsets(samples, rate, [0.3, 1.7]))) < 0.003


def test_a_sound_of_its_own_begins_with_the_clip(clip, tmp_path):
    """From its own first sample, after the first picture has stood."""
    own = write_wav(tmp_path / "own.wav", clicks(1, [0.5], rate=44100), 44100)
    hold = Fraction(1, 4)
    order = RenderOrder(
        clip,
        (64, 48),
        Fraction(35, 1000),
        audio=SoundFormat("wav"),
        sound=own,
        hold_start=hold,
        speed=Fraction(2),
    )
    (tmp_path / "made").mkdir()
    _, samples, rate, report = play(order, tmp_path / "made")
    assert abs(onsets(samples, rate, [0.75])[0]) < 0.002
    assert abs(len(samples) / rate - float(report.length)) < 0.001


def test_flashes_are_examined_at_the_times_of_the_device(clip, tmp_path):
    """Three flashes in four seconds pass; shown eight times as fast they fail."""
    calm = RenderOrder(clip, (64, 48), Fraction(35, 1000), silent=True, loops=False)
    assert render(calm, tmp_path, lambda _done, _total: None).flash.passes
    (tmp_path / "fast").mkdir()
    fast = RenderOrder(clip, (64, 48), Fraction(20, 1000), silent=True, speed=Fraction(8), loops=True)
    verdict = render(fast, tmp_path / "fast", lambda _done, _total: None).flash
    assert (verdict.passes, verdict.first_failing_second is not None) == (False, True)


@pytest.mark.sweep
def test_a_minute_of_pictures_and_sound_stays_in_step(tmp_path):
    """60 seconds at 30000/1001, a flash and a click every ten seconds, on a player that waits 33 ms and
    draws 2."""
    rate = Fraction(30000, 1001)
    marks = [Fraction(10 * number + 5) for number in range(6)]
    pictures = []
    for number in range(int(60 * rate)):
        time = number / rate
        is_lit = any(0 <= time - mark < Fraction(1, 5) for mark in marks)
        pictures.append((time, np.full((16, 16, 3), 255 if is_lit else 0, np.uint8)))
    source = mux_sound(
        tmp_path / "minute.mkv", [([(Fraction(0), clicks(60, marks))], 48000, True)], pictures=pictures
    )
    (tmp_path / "made").mkdir()
    order = RenderOrder(source, (16, 16), Fraction(35, 1000), audio=SoundFormat("mp3"))
    begins, samples, stored, report = play(order, tmp_path / "made")
    for begin, late, mark in zip(begins, onsets(samples, stored, marks), marks, strict=True):
        shown = -(-mark * rate // 1) / rate  # The source itself shows its flash with the next picture only.
        assert 0 <= begin - shown < Fraction(35, 1000)
        assert abs(late) < 0.003
    assert abs(len(samples) / stored - float(report.length)) < 0.035

"""What the examination for flashes costs a frame, and the sound of a clip a second; prints, asserts no time.

Processor time of this process, the best of some rounds: other work on the machine then counts least.
"""

from __future__ import annotations

import io
import random
import time
import wave
from array import array
from fractions import Fraction

import pytest
from PIL import Image

from workbench.media.flashes import FlashAnalyser
from workbench.media.render_order import SoundFormat
from workbench.media.sound import render_sound
from workbench.media.sound_cut import SoundCut

ROUNDS = 5
SIZE = (640, 480)


def best(run):
    times = []
    for _ in range(ROUNDS):
        start = time.process_time()
        run()
        times.append(time.process_time() - start)
    return min(times)


def soft_frames(colours):
    """A picture of soft blots that wanders, as a camera would."""
    blots = bytes(random.Random(1).randrange(200) for _ in range(3 * 24 * 12))
    wide = Image.frombytes("RGB", (24, 12), blots).resize((SIZE[0] * 2, SIZE[1]), Image.Resampling.BICUBIC)
    if colours:
        wide.paste((230, 10, 5), (300, 100, 900, 400))
    else:
        wide = wide.convert("L").convert("RGB")
    return [wide.crop((8 * at, 0, 8 * at + SIZE[0], SIZE[1])) for at in range(30)]


@pytest.mark.bench
@pytest.mark.parametrize("plain", [False, True], ids=["numpy", "Pillow alone"])
@pytest.mark.parametrize("colours", [False, True], ids=["no red", "red to follow"])
def test_a_frame_examined(plain, colours):
    """640×480, from the RGB bytes of each frame."""
    frames = [frame.tobytes() for frame in soft_frames(colours)]

    def run():
        analyser = FlashAnalyser(*SIZE, plain=plain)
        for index, frame in enumerate(frames):
            analyser.feed(frame, Fraction(index, 30))

    each = best(run) / len(frames) * 1000
    how = f"{'Pillow alone' if plain else 'numpy'}, {'red' if colours else 'no red'}"
    print(f"\n{each:.2f} ms a frame, {how}")


@pytest.mark.bench
@pytest.mark.parametrize(
    "form", [SoundFormat("mp3", loudness=Fraction(-23)), SoundFormat("wav", loudness=Fraction(-23))]
)
def test_twelve_seconds_of_sound(tmp_path, form):
    """Decoded, resampled, levelled, stored, decoded and measured again."""
    pytest.importorskip("av")
    noise = random.Random(2)
    samples = array("h", (noise.randrange(-4000, 4000) for _ in range(12 * 48000 * 2)))
    stored = io.BytesIO()
    with wave.open(stored, "wb") as file:
        file.setnchannels(2)
        file.setsampwidth(2)
        file.setframerate(48000)
        file.writeframes(samples.tobytes())
    source = tmp_path / "noise.wav"
    source.write_bytes(stored.getvalue())
    spent = best(lambda: render_sound(source, SoundCut(Fraction(12)), form))
    print(f"\n12 s of sound to {form.container}: {spent:.2f} s")

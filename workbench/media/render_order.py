"""What is to be made of a clip: the whole order for one boot animation, as a value that travels as JSON.

All times are whole fractions of seconds, so that no rounding can pile up between picture and sound.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

from workbench.media.colours import Colour
from workbench.media.levels import Dither
from workbench.typed import Literal, get_args
from workbench.values import dataclass

ClipFit = Literal["contain", "cover", "stretch"]
FrameContainer = Literal["png", "jpeg", "bmp", "raw"]
SoundContainer = Literal["mp3", "wav", "ogg"]
Turn = Literal[0, 90, 180, 270]

CLIP_FITS: tuple[str, ...] = get_args(ClipFit)
FRAME_CONTAINERS: tuple[str, ...] = get_args(FrameContainer)
SOUND_CONTAINERS: tuple[str, ...] = get_args(SoundContainer)


@dataclass(frozen=True, slots=True)
class FrameFormat:
    """How each frame is stored."""

    container: FrameContainer = "png"
    bits: int = 0
    """BMP and raw: bits of a pixel, as a splash's kind says; 0 for the container's usual (24; raw 16)."""
    masks: str | None = None
    """BMP and raw: the layout's name, as a splash's kind says (`565`, …)."""
    rows: Literal["bottom-up", "top-down"] | None = None
    """BMP: None for bottom-up, which every reader knows."""
    colours: int | None = None
    """PNG and BMP: at most this many colours (2 to 256) in a palette of the frame's own; None for all."""
    dither: Dither = "none"
    """How colours that are not there are mixed from those that are."""
    quality: int = 92
    """JPEG: 1 to 100."""
    pattern: str = "{n}.png"
    """File name of a frame; `{n}` is its number."""
    first: int = 0
    """Number of the first frame."""
    pad: int = 0
    """Digits that a number is filled up to with zeros."""

    def name_of(self, index: int) -> str:
        """File name of the frame at `index`, counted from 0."""
        return self.pattern.replace("{n}", str(self.first + index).zfill(self.pad))


@dataclass(frozen=True, slots=True)
class SoundFormat:
    """How the sound is stored and how loud it may be."""

    container: SoundContainer = "mp3"
    rate: int = 44100
    """Samples a second."""
    channels: int = 2
    loudness: Fraction | None = None
    """Wanted loudness in LUFS (ITU-R BS.1770); None keeps that of the source."""
    peak: Fraction = Fraction(-1)
    """Highest true peak, in dBTP; held even where the loudness is kept."""
    fade_in: Fraction = Fraction(0)
    fade_out: Fraction = Fraction(0)

    @property
    def name(self) -> str:
        """The file's name among what was rendered."""
        return f"sound.{self.container}"


@dataclass(frozen=True, slots=True)
class RenderOrder:
    """One boot animation, from source to files. Times are seconds."""

    source: Path
    """A video, an animated picture, or a folder of numbered pictures; only read."""
    panel: tuple[int, int]
    """Pixels across and down, as a person sees the panel; frames are stored turned by `rotate`."""
    delay: Fraction
    """Between two frames as the device shows them: its wait and the time it draws. More than 0."""
    frames: FrameFormat = FrameFormat()
    audio: SoundFormat | None = None
    """None where the device has no sound to an animation."""
    sound: Path | None = None
    """A file of its own for the sound, played from its beginning; None takes the source's."""
    silent: bool = False
    """No sound at all, whatever there is."""
    start: Fraction = Fraction(0)
    """Where to begin, counted from the source's first picture."""
    length: Fraction | None = None
    """Of the source, before `speed`; None to its end."""
    speed: Fraction = Fraction(1)
    """2 shows the source twice as fast. More than 0."""
    source_delay: Fraction | None = None
    """A folder of pictures: seconds that each stands for; None for one each `delay`."""
    crop: tuple[int, int, int, int] | None = None
    """x, y, width, height in pixels of the source as it is shown; None for all of it."""
    fit: ClipFit = "contain"
    background: Colour = (0, 0, 0)
    rotate: Turn = 0
    """Clockwise turn of a frame before it is stored."""
    hold_start: Fraction = Fraction(0)
    """How long the first picture stands still, before the clip runs; without sound."""
    hold_end: Fraction = Fraction(0)
    """How long the last picture stands still."""
    fade_in: Fraction = Fraction(0)
    """From the background, at the very beginning; a hold lies within it."""
    fade_out: Fraction = Fraction(0)
    """To the background, at the very end."""
    dim: Fraction = Fraction(1)
    """What all brightness is multiplied by (of the stored values); 0 < dim <= 1."""
    loops: bool = True
    """Whether the device shows it more than once in a row: then it is examined for flashes so."""
    still: int | None = None
    """Index of a frame that is also wanted as a picture of its own (`still.png`, upright, all colours)."""


STILL_NAME = "still.png"

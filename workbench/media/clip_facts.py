"""What a clip is, as far as it can be told without decoding all of it."""

from __future__ import annotations

from fractions import Fraction

from workbench.typed import Literal
from workbench.values import dataclass

ClipKind = Literal["video", "animated", "pictures"]


@dataclass(frozen=True, slots=True)
class ClipFacts:
    """One source. Sizes are as it is shown: turned upright, pixels square, before any crop."""

    kind: ClipKind
    """A video, an animated picture, or a folder of numbered pictures."""
    width: int
    height: int
    frames: int | None
    """None where only decoding all of it would tell."""
    duration: Fraction
    """Seconds, from the first picture to the end of the last; 0 where nothing says so."""
    rate: Fraction | None
    """Frames a second as stated, exactly (30000/1001); None where there is none."""
    variable: bool = False
    """Whether its frames stand for different times."""
    rotation: int = 0
    """Clockwise turn that its metadata asks for, undone already in `width` and `height`."""
    alpha: bool = False
    interlaced: bool = False
    bits: int = 8
    """Of one colour channel."""
    hdr: Literal["PQ", "HLG"] | None = None
    """SMPTE ST 2084 or ARIB STD-B67, brought down to a panel's range."""
    sound: tuple[int, int] | None = None
    """Samples a second and channels; None where it is silent."""
    notes: tuple[str, ...] = ()
    """Sentences for a person: what was odd, and what was done about it."""

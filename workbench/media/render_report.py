"""What a render made and measured: everything that is shown before anything is written to a card."""

from __future__ import annotations

from fractions import Fraction

from workbench.media.clip_facts import ClipFacts
from workbench.media.flash_verdict import FlashVerdict
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class RenderedFile:
    """One file that waits in the render's folder."""

    name: str
    size: int
    sha256: str


@dataclass(frozen=True, slots=True)
class RenderReport:
    """One finished render."""

    frames: tuple[RenderedFile, ...]
    """In the order in which the device shows them. Equal frames are files of their own all the same."""
    sound: RenderedFile | None
    still: RenderedFile | None
    facts: ClipFacts
    count: int
    length: Fraction
    """Seconds that the device takes for all frames: count times delay."""
    drift_naive_ms: float
    """How far picture and sound would be apart at the end if every source frame were shown for the delay."""
    drift_ours_ms: float
    """The same of this render: less than one delay either way."""
    flash: FlashVerdict
    loudness: float | None = None
    """LUFS of the sound as it is stored; None where there is none, or too little to measure."""
    true_peak: float | None = None
    """dBTP of the sound as it is stored."""
    notes: tuple[str, ...] = ()
    """Sentences for a person."""

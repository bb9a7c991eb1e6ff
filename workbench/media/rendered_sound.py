"""A sound file that was made, and what it measures."""

from __future__ import annotations

from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class RenderedSound:
    """A finished file, and what it measures when it is decoded again."""

    encoded: bytes
    loudness: float | None
    """LUFS; None for silence, or less than 400 ms."""
    true_peak: float | None
    """dBTP; None for silence, or where it was not measured."""
    notes: tuple[str, ...] = ()
    """Sentences for a person."""

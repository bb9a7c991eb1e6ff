"""A place that names an entry under no rule of the profile."""

from __future__ import annotations

from workbench.card.paths import VolumePath
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Mention:
    """Listed for the person to take or leave, never changed silently."""

    at: VolumePath
    line: int | None
    """1-based; None in a binary file."""
    text: str
    """The line, or what stands around the name."""
    offset: int | None = None
    """Byte offset, for binary files."""

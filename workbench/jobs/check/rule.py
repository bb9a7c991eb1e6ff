"""A rule of the check: its stable name, its level, and what it is about, in words for a person."""

from __future__ import annotations

from workbench.card.paths import VolumePath
from workbench.jobs.check.finding import Finding, Level, Remedy
from workbench.values import dataclass


@dataclass(frozen=True, slots=True)
class Rule:
    """One sort of finding."""

    name: str
    level: Level
    """Its usual level; a finding may be less grave where there is doubt."""
    words: str
    """What all its findings have in common, as a heading."""

    def found(
        self,
        at: VolumePath,
        message: str,
        *,
        line: int | None = None,
        remedy: Remedy | None = None,
        level: Level | None = None,
    ) -> Finding:
        """A finding of this rule."""
        return Finding(self.name, level or self.level, at, line, message, remedy)

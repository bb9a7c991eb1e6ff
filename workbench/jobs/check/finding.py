"""What a check finds: a rule, a place, a sentence, and where possible a remedy. Values only."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.tree import Tree
from workbench.changes.plan import Plan
from workbench.typed import Any, Literal, get_args
from workbench.values import dataclass, field

Level = Literal["error", "warning", "note"]
LEVELS: tuple[Level, ...] = get_args(Level)
"""The gravest first: something does not work; something may not, or is at risk; something worth knowing."""


def is_at_least(level: Level, other: Level) -> bool:
    """Whether a level is as grave as another, or graver."""
    return LEVELS.index(level) <= LEVELS.index(other)


@dataclass(frozen=True, slots=True)
class Remedy:
    """How a finding is mended."""

    words: str
    """What it does, as an order: `take the line out`."""
    plan: Callable[[Tree, Profile], Plan]
    """Plans it on the card as it is then; what is mended already gives a plan without steps."""
    what: Any = None
    """What it works on, for `together`."""
    together: Callable[[Tree, Profile, Sequence[Any]], Plan] | None = None
    """Plans what several remedies of one file work on at once, where they can be joined."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One result of a check."""

    rule: str
    level: Level
    at: VolumePath
    line: int | None
    """1-based, where the place is a line of a text."""
    message: str
    """One sentence without the place and without numbers of lines: two checks can be compared by it."""
    remedy: Remedy | None = field(default=None, compare=False, repr=False)

    is_more: bool = field(default=False, compare=False)
    """Whether it stands for others of its file that are not listed one by one."""

    @property
    def is_mendable(self) -> bool:
        return self.remedy is not None

    @property
    def identity(self) -> tuple[str, VolumePath, str]:
        """What stays the same when lines above it come or go."""
        return self.rule, self.at, self.message

"""The waiting plan: wishes in the order in which they were made, none of them written yet.

Values only. Each wish was planned on the card as the wishes before it leave it, so dropping from the end is
always safe and dropping from the middle is never offered.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import reduce

from workbench.card.paths import ASIDE, VolumePath
from workbench.changes.plan import MakeFolder, Move, Plan, Remove, Step, Write, content_size

NOTHING = Plan("", ())


@dataclass(frozen=True, slots=True)
class Waiting:
    """The wishes that wait to be written."""

    wishes: tuple[Plan, ...] = ()

    @property
    def plan(self) -> Plan:
        """All wishes as one plan."""
        return reduce(Plan.then, self.wishes, NOTHING)

    def grown(self, wish: Plan) -> Waiting:
        """With one wish more."""
        return replace(self, wishes=(*self.wishes, wish))

    def without_last(self) -> Waiting:
        """Without the last wish."""
        return replace(self, wishes=self.wishes[:-1])

    def __bool__(self) -> bool:
        return bool(self.wishes)


@dataclass(slots=True)
class Outcome:
    """What a plan comes to, chains of moves and repeated writes counted once."""

    origins: dict[VolumePath, VolumePath] = field(default_factory=dict)
    """Where something is at the end → where it was at the start, for what moved."""
    changed: dict[VolumePath, int] = field(default_factory=dict)
    """Files replaced → bytes of their new content."""
    new: dict[VolumePath, int] = field(default_factory=dict)
    """Files and folders made → bytes."""
    put_away: list[VolumePath] = field(default_factory=list)

    @property
    def moved(self) -> dict[VolumePath, VolumePath]:
        """What is somewhere else at the end."""
        return {to: start for to, start in self.origins.items() if to != start and not _is_aside(to)}

    @property
    def bytes(self) -> int:
        """Bytes of new content."""
        return sum(self.changed.values()) + sum(self.new.values())

    def origin(self, at: VolumePath) -> VolumePath:
        """Where the thing that ends at `at` was at the start."""
        if at in self.origins:
            return self.origins[at]
        above = at.parent
        if not above.path:
            return at
        start = self.origin(above)
        return at if start == above else start.child(at.name)


def outcome_of(plan: Plan) -> Outcome:
    """Follow a plan's steps to their end."""
    outcome = Outcome()
    for step in plan.steps:
        _follow(step, outcome)
    return outcome


def _follow(step: Step, outcome: Outcome) -> None:
    if isinstance(step, Move):
        outcome.origins[step.to] = outcome.origins.pop(step.source, step.source)
        for places in (outcome.changed, outcome.new):
            _carry(places, step)
    elif isinstance(step, Write):
        is_new = step.before is None or step.at in outcome.new
        (outcome.new if is_new else outcome.changed)[step.at] = content_size(step)
    elif isinstance(step, MakeFolder):
        outcome.new[step.at] = 0
    elif isinstance(step, Remove):
        outcome.put_away.append(outcome.origins.pop(step.at, step.at))


def _carry(places: dict[VolumePath, int], move: Move) -> None:
    for at in [at for at in places if at == move.source or at.is_below(move.source)]:
        rest = at.path[len(move.source.path) :]
        places[VolumePath(move.to.volume, move.to.path + rest)] = places.pop(at)


def _is_aside(at: VolumePath) -> bool:
    return at.path.startswith(ASIDE)

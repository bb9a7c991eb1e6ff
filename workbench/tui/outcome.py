"""What a plan comes to: what is moved, changed, new and put away once every step is done."""

from __future__ import annotations

from workbench.card.paths import ASIDE, VolumePath
from workbench.changes.plan import MakeFolder, Move, Plan, Remove, Step, Write, content_size
from workbench.values import dataclass, field


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

"""What a plan comes to: what is moved, changed, new and put away once every step is done.

The steps are followed over a tree of names, so that whatever lies in a folder moves with it at no cost.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterator

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
    ordered: tuple[VolumePath, ...] = ()
    """Folders whose own order is set."""

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

    def key(self, at: VolumePath) -> Hashable:
        """What tells a thing from every other while a plan grows: where it was, or where it was made."""
        origin = self.origin(at)
        return ("new", origin) if at in self.new else origin


def outcome_of(plan: Plan) -> Outcome:
    """Follow a plan's steps to their end."""
    roots: dict[str, _Spot] = {}
    put_away: list[VolumePath] = []
    for number, step in enumerate(plan.steps):
        _follow(step, number, roots, put_away)
    folders = tuple(dict.fromkeys(listing.folder for listing in plan.listings))
    outcome = Outcome(put_away=put_away, ordered=folders)
    found = [one for volume, root in roots.items() for one in _all_below(volume, "", root)]
    for at, spot in sorted(found, key=lambda one: one[1].moved):
        if spot.moved >= 0:
            outcome.origins[at] = spot.origin or at
    for at, spot in sorted(found, key=lambda one: one[1].written):
        if spot.written >= 0:
            (outcome.new if spot.is_new else outcome.changed)[at] = spot.size
    return outcome


@dataclass(slots=True)
class _Spot:
    """One name, as far as the plan touches it or something below it."""

    children: dict[str, _Spot] = field(default_factory=dict)
    origin: VolumePath | None = None
    """Where it was at the start, once it has moved."""
    moved: int = -1
    """The step that moved it last; -1: none."""
    written: int = -1
    """The step that wrote it first."""
    size: int = 0
    is_new: bool = False


def _follow(step: Step, number: int, roots: dict[str, _Spot], put_away: list[VolumePath]) -> None:
    if isinstance(step, Move):
        origin, spot = _origin_of(roots, step.source), _take_out(roots, step.source)
        spot.origin, spot.moved = origin, number
        _find(roots, step.to.parent).children[step.to.name] = spot
    elif isinstance(step, Write):
        spot = _find(roots, step.at)
        spot.is_new = spot.is_new or step.before is None
        spot.size = content_size(step)
        spot.written = number if spot.written < 0 else spot.written
    elif isinstance(step, MakeFolder):
        spot = _find(roots, step.at)
        spot.is_new, spot.written = True, number
    elif isinstance(step, Remove):
        put_away.append(_origin_of(roots, step.at))
        _take_out(roots, step.at)


def _find(roots: dict[str, _Spot], at: VolumePath) -> _Spot:
    """The spot at a place, made where there is none."""
    spot = roots.setdefault(at.volume, _Spot())
    for name in at.path.split("/") if at.path else ():
        spot = spot.children.setdefault(name, _Spot())
    return spot


def _take_out(roots: dict[str, _Spot], at: VolumePath) -> _Spot:
    return _find(roots, at.parent).children.pop(at.name, None) or _Spot()


def _origin_of(roots: dict[str, _Spot], at: VolumePath) -> VolumePath:
    """Where the thing at a place was at the start: it, or a folder above it, may have moved."""
    spot, origin = roots.get(at.volume), VolumePath(at.volume, "")
    for name in at.path.split("/"):
        spot = spot.children.get(name) if spot else None
        origin = spot.origin if spot and spot.origin else origin.child(name)
    return origin


def _all_below(volume: str, path: str, spot: _Spot) -> Iterator[tuple[VolumePath, _Spot]]:
    for name, child in spot.children.items():
        below = f"{path}/{name}" if path else name
        yield VolumePath(volume, below), child
        yield from _all_below(volume, below, child)


def _is_aside(at: VolumePath) -> bool:
    return at.path.startswith(ASIDE)

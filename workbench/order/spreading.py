"""Chooses the prefixes of entries that stand between two names, with room left for the next change.

Each prefix comes from the plainest pool that has enough of them, spread over what lies between. Two entries
share a prefix only where there are too few: `05 Apple`, `05 Boats` sorts well and leaves no room.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence

from workbench.order.least_renames import Row
from workbench.order.token_table import Places, Pools, TokenTable
from workbench.values import dataclass, replace

Groups = Sequence[frozenset[int]]
"""Sets of pools to choose from, the plainest first; the last holds all of them."""


@dataclass(frozen=True, slots=True)
class Run:
    """Entries next to each other that take a prefix, and what they stand between."""

    rows: Sequence[Row]
    low: int
    """The place of the name before."""
    high: int | None
    """The place of the name behind; None at the end of the menu."""
    is_free: Callable[[int, int], bool]
    """Whether the entry of that number may have that row's prefix: no other name is one with it."""

    def fits(self, number: int, at: int) -> bool:
        """Whether the entry of that number can have that row's prefix."""
        row = self.rows[number]
        return row.following[at] == at and at not in row.banned and self.is_free(number, at)


def choose_rows(
    run: Run, table: TokenTable, places: Places, groups: Groups, *, stepped: bool = False
) -> list[int]:
    """A row of the table for each entry of a run: their places rise strictly from `low` to `high`.

    Where no row is left that is free, one that is not is chosen all the same.

    Args:
        stepped: behind the last number of a menu, the first group's prefixes are taken one by one
            (`040`, `050` after `030`), not spread over all that could follow.
    """
    first = run.low // places.row_size
    last = len(table.prefixes) if run.high is None else run.high // places.row_size
    for number, group in enumerate(groups):
        allowed = table.rows_in(group)
        if bisect_right(allowed, last) - bisect_left(allowed, first) >= len(run.rows):
            spread = _Spreading(run, places, allowed, is_stepped=stepped and number == 0)
            chosen = spread.choose()
            if chosen is not None:
                return chosen
    everything = range(1, len(table.prefixes) + 1)
    for any_run in (run, replace(run, is_free=lambda _number, _at: True)):
        chosen = _Spreading(any_run, places, everything, is_shared=True).choose()
        if chosen is not None:
            return chosen
    raise AssertionError("the choices promised a prefix here")


class _Spreading:
    """Spreads a run over some rows of the table. Positions count those rows."""

    def __init__(
        self,
        run: Run,
        places: Places,
        allowed: Sequence[int],
        *,
        is_shared: bool = False,
        is_stepped: bool = False,
    ) -> None:
        self._run = run
        self._places = places
        self._allowed = allowed
        self._is_shared = is_shared
        """Whether two names may have the same prefix, neighbours too."""
        self._is_stepped = is_stepped

    def choose(self) -> list[int] | None:
        """Between the earliest positions that will do and the latest that leave room for those behind."""
        latest = self._find_latest()
        if latest is None:
            return None
        chosen: list[int] = []
        first, end, count = -1, self._run.low, len(latest)
        is_open = self._is_stepped and latest[-1] == len(self._allowed) - 1
        for number, row in enumerate(self._run.rows):
            least = self._after(end, number)
            if least is None or least > latest[number]:
                return None
            first = least if first < 0 else first
            goal = max(least, first + (latest[-1] + 1 - first) * (number + 1) // (count + 1))
            at = self._nearest(least, least if is_open else min(goal, latest[number]), number)
            chosen.append(self._allowed[at])
            end = self._allowed[at] * self._places.row_size + row.slot
        return chosen

    def _find_latest(self) -> list[int] | None:
        """For each entry the last position that leaves room for those behind it."""
        latest: list[int] = []
        end = self._run.high
        for number in range(len(self._run.rows) - 1, -1, -1):
            at = self._before(end, number)
            while at >= 0 and not self._run.fits(number, self._allowed[at]):
                at -= 1
            if at < 0:
                return None
            latest.append(at)
            end = self._allowed[at] * self._places.row_size + self._run.rows[number].slot
        return latest[::-1]

    def _before(self, end: int | None, number: int) -> int:
        """The last position whose name sorts before `end`."""
        if end is None:
            return len(self._allowed) - 1
        at, inner = divmod(end, self._places.row_size)
        is_after = inner >= self._places.row_end or (self._is_shared and inner > self._run.rows[number].slot)
        return bisect_right(self._allowed, at if is_after else at - 1) - 1

    def _after(self, end: int, number: int) -> int | None:
        """The first position whose name sorts after `end`."""
        at, inner = divmod(end, self._places.row_size)
        is_past = inner >= self._run.rows[number].slot or not self._is_shared
        position = bisect_left(self._allowed, at + is_past)
        while position < len(self._allowed) and not self._run.fits(number, self._allowed[position]):
            position += 1
        return position if position < len(self._allowed) else None

    def _nearest(self, least: int, goal: int, number: int) -> int:
        """The position closest below the goal, `least` at last, that the entry can have."""
        at = goal
        while at > least and not self._run.fits(number, self._allowed[at]):
            at -= 1
        return at


def list_groups(pools: Pools, *, nested: bool) -> list[frozenset[int]]:
    """Which pools to choose from, the plainest choice first.

    Of each length every pool by itself, so that neighbours look alike, then all that are no longer; signs
    come last. Where pools are parts of one another, simply more and more of them.
    """
    if nested:
        return [frozenset(range(number + 1)) for number in range(len(pools))]
    levels = [(not pool[0][0].isalnum(), len(pool[0])) for pool in pools]
    groups: list[frozenset[int]] = []
    for level in sorted(set(levels)):
        groups += [frozenset((number,)) for number, own in enumerate(levels) if own == level]
        groups.append(frozenset(number for number, own in enumerate(levels) if own <= level))
    return list(dict.fromkeys(groups))


def runs_of(kinds: Sequence[str]) -> Iterator[tuple[int, int]]:
    """Stretches of entries that take a prefix, as `start, end`; those out of place count for nothing."""
    start = None
    for number, kind in enumerate(kinds):
        if kind == "token":
            start = number if start is None else start
        elif kind != "out" and start is not None:
            yield start, number
            start = None
    if start is not None:
        yield start, len(kinds)

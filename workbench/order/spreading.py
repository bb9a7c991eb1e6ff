"""Chooses the prefixes of entries that stand between two names, with room left for the next change.

Each prefix comes from the plainest pool that has enough of them, spread over what lies between. Two entries
share a prefix only where there are too few: `05 Apple`, `05 Boats` sorts well and leaves no room.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterator, Sequence

from workbench.order.least_renames import Row
from workbench.order.token_table import Pools, TokenTable

Groups = Sequence[frozenset[int]]
"""Sets of pools to choose from, the plainest first; the last holds all of them."""


def choose_rows(
    rows: Sequence[Row],
    low: int,
    high: int | None,
    row_size: int,
    table: TokenTable,
    groups: Groups,
    is_free: Callable[[int, int], bool],
) -> list[int]:
    """A row of the table for each entry of a run: their places rise strictly between `low` and `high`.

    Args:
        low, high: places of the names before and after; `high` is None at the end of the menu.
        is_free: whether the entry of that number can have that row's prefix (no other name is the same to
            the device). Where nothing else is left, one that is not free is chosen all the same.
    """
    first, last = low // row_size, len(table.prefixes) if high is None else high // row_size
    for group in groups:
        allowed = table.rows_in(group)
        if bisect_right(allowed, last) - bisect_left(allowed, first) >= len(rows):
            chosen = _spread(rows, low, high, row_size, allowed, is_free, shared=False)
            if chosen is not None:
                return chosen
    everything = range(1, len(table.prefixes) + 1)
    for is_wanted in (is_free, lambda _number, _at: True):
        chosen = _spread(rows, low, high, row_size, everything, is_wanted, shared=True)
        if chosen is not None:
            return chosen
    raise AssertionError("the choices promised a prefix here")


def _spread(
    rows: Sequence[Row],
    low: int,
    high: int | None,
    row_size: int,
    allowed: Sequence[int],
    is_free: Callable[[int, int], bool],
    *,
    shared: bool,
) -> list[int] | None:
    """Positions between the earliest that will do and the latest that leaves room for those behind."""
    latest = _find_latest(rows, high, row_size, allowed, is_free, shared=shared)
    if latest is None:
        return None
    chosen: list[int] = []
    first, end = -1, low
    for number, row in enumerate(rows):
        least = _after(row, end, row_size, allowed, is_free, number, shared=shared or not chosen)
        if least is None or least > latest[number]:
            return None
        first = least if first < 0 else first
        goal = max(least, first + (latest[-1] + 1 - first) * (number + 1) // (len(rows) + 1))
        at = _nearest(row, least, min(goal, latest[number]), allowed, is_free, number)
        chosen.append(allowed[at])
        end = allowed[at] * row_size + row.slot
    return chosen


def _find_latest(
    rows: Sequence[Row],
    high: int | None,
    row_size: int,
    allowed: Sequence[int],
    is_free: Callable[[int, int], bool],
    *,
    shared: bool,
) -> list[int] | None:
    """For each entry the last position that leaves room for those behind it."""
    latest: list[int] = []
    end = high
    for number in range(len(rows) - 1, -1, -1):
        row = rows[number]
        at = len(allowed) - 1 if end is None else _last_before(row, end, row_size, allowed)
        if latest and not shared:
            at = min(at, latest[-1] - 1)
        while at >= 0 and not _fits(row, allowed[at], number, is_free):
            at -= 1
        if at < 0:
            return None
        latest.append(at)
        end = allowed[at] * row_size + row.slot
    return latest[::-1]


def _last_before(row: Row, end: int, row_size: int, allowed: Sequence[int]) -> int:
    at, inner = divmod(end, row_size)
    return bisect_right(allowed, at if inner > row.slot else at - 1) - 1


def _after(
    row: Row,
    end: int,
    row_size: int,
    allowed: Sequence[int],
    is_free: Callable[[int, int], bool],
    number: int,
    *,
    shared: bool,
) -> int | None:
    """The first position whose name sorts after `end`; not in the same row, unless rows are shared."""
    at, inner = divmod(end, row_size)
    position = bisect_left(allowed, at + (inner >= row.slot or not shared))
    while position < len(allowed) and not _fits(row, allowed[position], number, is_free):
        position += 1
    return position if position < len(allowed) else None


def _nearest(
    row: Row,
    least: int,
    goal: int,
    allowed: Sequence[int],
    is_free: Callable[[int, int], bool],
    number: int,
) -> int:
    """The position closest below the goal, `least` at last, that the entry can have."""
    at = goal
    while at > least and not _fits(row, allowed[at], number, is_free):
        at -= 1
    return at


def _fits(row: Row, at: int, number: int, is_free: Callable[[int, int], bool]) -> bool:
    return row.following[at] == at and at not in row.banned and is_free(number, at)


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

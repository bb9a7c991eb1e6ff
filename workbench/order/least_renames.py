"""The least work that puts a menu in order: which entries keep their names, and which take another.

Names are places on one scale (`token_table.Places`). Going through the wanted order, each entry keeps its
name, takes its bare name, or takes the first prefix that sorts after what came before: for any end so far
only the lowest cost counts, and of two ends that cost the same the lower one leaves more room. What is left
is a short list of ends, each cheaper than all before it, and it holds an optimal choice for every rest of the
menu. Costs are single numbers, so that the weight comes first, then the number of renames, and so on.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Container, Sequence

from workbench.typed import Any, Literal
from workbench.values import dataclass, field

Choice = Literal["keep", "bare", "token", "out"]
"""What becomes of an entry's name. `out`: it keeps its name and stands out of place."""

_OUT = 1 << 90
_WEIGHT = 1 << 36
_RENAME = 1 << 24
_NOT_CARRIED = 1 << 12
_FEW = 16


@dataclass(frozen=True, slots=True)
class Row:
    """One entry, in the wanted order."""

    keep: int | None
    """Its present name's place; None where it cannot be kept."""
    bare: int | None
    """Its bare name's place; None where that is no legal or free name."""
    slot: int
    following: Sequence[int]
    """The first row of the table, from each row on, whose prefix is legal before this rest (`list_next`)."""
    weight: int
    is_carried: bool = False
    """Moved by the person: where the work is equal, this one is renamed and not its neighbour."""
    banned: Container[int] = field(default_factory=frozenset)
    """Rows of the table whose prefix gives a name that cannot be had."""


@dataclass(frozen=True, slots=True)
class Choices:
    """One choice for each entry, and what all of them cost (comparable, nothing more)."""

    kinds: tuple[Choice, ...]
    cost: int


def find_choices(rows: Sequence[Row], row_size: int, row_count: int, *, out: bool = False) -> Choices | None:
    """The choices of least work, or None where no names of this style give the order.

    Least means: the lowest total weight of what is renamed; then the fewest renames; then those that were
    carried; then the fewest prefixes.

    Args:
        row_size, row_count: of the table, see `Places`.
        out: entries may stand out of place, as few as can be, whatever the rest costs.
    """
    some = _search(rows, row_size, row_count, out=out, width=_FEW)
    return _search(rows, row_size, row_count, out=out, most=None if some is None else some.cost)


def _search(
    rows: Sequence[Row],
    row_size: int,
    row_count: int,
    *,
    out: bool,
    most: int | None = None,
    width: int | None = None,
) -> Choices | None:
    """`most`: a cost that is known to do. `width`: look at the cheapest few ends only, which is quick."""
    ends: list[int] = [-1]
    costs: list[int] = [0]
    paths: list[Any] = [None]
    for row in rows:
        made = _take_prefixes(row, ends, costs, paths, row_size, row_count, most)
        if row.bare is not None:
            _take_name(made, row.bare, ends, costs, paths, _cost_of(row), "bare")
        if row.keep is not None:
            _take_name(made, row.keep, ends, costs, paths, 0, "keep")
        if out:
            _leave_out(made, ends, costs, paths)
        ends, costs, paths = made
        if width is not None:
            del ends[:-width], costs[:-width], paths[:-width]
        if not ends:
            return None
    kinds: list[Choice] = []
    path = paths[-1]
    while path is not None:
        path, kind = path
        kinds.append(kind)
    return Choices(tuple(reversed(kinds)), costs[-1])


def _cost_of(row: Row) -> int:
    return row.weight * _WEIGHT + _RENAME + (0 if row.is_carried else _NOT_CARRIED)


Front = tuple[list[int], list[int], list[Any]]
"""Ends (rising), their costs (falling), and the choices that led to each."""


def _take_prefixes(
    row: Row,
    ends: list[int],
    costs: list[int],
    paths: list[Any],
    row_size: int,
    row_count: int,
    most: int | None,
) -> Front:
    new_ends: list[int] = []
    new_costs: list[int] = []
    new_paths: list[Any] = []
    slot, following, banned, more = row.slot, row.following, row.banned, _cost_of(row) + 1
    last = -1
    for end, cost, path in zip(ends, costs, paths, strict=True):
        if most is not None and cost + more > most:
            continue
        at, inner = divmod(end, row_size)
        at = following[at + (inner >= slot)]
        while at <= row_count and at in banned:
            at = following[at + 1]
        if at > row_count:
            break
        if at == last:
            new_costs[-1], new_paths[-1] = cost + more, (path, "token")
            continue
        last = at
        new_ends.append(at * row_size + slot)
        new_costs.append(cost + more)
        new_paths.append((path, "token"))
    return new_ends, new_costs, new_paths


def _take_name(
    made: Front, place: int, ends: list[int], costs: list[int], paths: list[Any], more: int, kind: Choice
) -> None:
    """A name of its own is reached best from the cheapest end before it: the last one."""
    at = bisect_left(ends, place) - 1
    if at >= 0:
        _add(made, place, costs[at] + more, (paths[at], kind))


def _leave_out(made: Front, ends: list[int], costs: list[int], paths: list[Any]) -> None:
    for end, cost, path in zip(ends, costs, paths, strict=True):
        _add(made, end, cost + _OUT, (path, "out"))


def _add(made: Front, end: int, cost: int, path: Any) -> None:
    """Keep it if nothing made so far is as low and as cheap; drop what it makes needless."""
    ends, costs, paths = made
    at = bisect_right(ends, end)
    if at and costs[at - 1] <= cost:
        return
    first = at - 1 if at and ends[at - 1] == end else at
    while at < len(costs) and costs[at] >= cost:
        at += 1
    ends[first:at], costs[first:at], paths[first:at] = [end], [cost], [path]

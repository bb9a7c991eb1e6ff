"""Prefixes in the order in which they sort, and every name as a number on one scale.

For one rest, the order of its prefixed names is that of the prefixes, whatever the rest: a token never holds
its separator, so no prefix starts with another. That is why names can be compared as places: first by prefix,
then by rest. `Places` gives each name of a menu such a place once; from then on whole numbers are compared.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Sequence
from functools import lru_cache

from workbench.order.collation import Order, SortKey, sort_key
from workbench.typed import Any
from workbench.values import dataclass, field

Pools = tuple[tuple[str, ...], ...]
"""Tokens, the plainest pool first."""


@dataclass(frozen=True, slots=True, eq=False)
class TokenTable:
    """Every prefix of a style (token and separator), as the order sorts them."""

    order: Order
    prefixes: tuple[str, ...]
    keys: tuple[Any, ...]
    pool_of: tuple[int, ...]
    """The pool that each prefix comes from."""
    units: tuple[int, ...]
    """UTF-16 units of each prefix."""
    _by_group: dict[frozenset[int], tuple[int, ...]] = field(default_factory=dict)
    _by_pool: list[list[int]] = field(default_factory=list)

    def rows_in(self, group: frozenset[int]) -> tuple[int, ...]:
        """The rows (1-based) whose prefixes come from these pools."""
        known = self._by_group.get(group)
        if known is None:
            rows = [row for pool in group for row in self._rows_of(pool)]
            known = self._by_group[group] = tuple(sorted(rows))
        return known

    def _rows_of(self, pool: int) -> Sequence[int]:
        if not self._by_pool:
            self._by_pool.extend([] for _ in range(max(self.pool_of, default=0) + 1))
            for at, one in enumerate(self.pool_of, 1):
                self._by_pool[one].append(at)
        return self._by_pool[pool] if pool < len(self._by_pool) else ()


@lru_cache(maxsize=32)
def make_table(order: Order, pools: Pools, separator: str) -> TokenTable:
    """The table of a style; of prefixes that tie (`A05 ` and `a05 ` under `letters`) the plainer stays."""
    key = sort_key(order)
    found: dict[Any, tuple[str, int]] = {}
    for number, pool in enumerate(pools):
        for token in pool:
            found.setdefault(key(token + separator), (token + separator, number))
    keys = tuple(sorted(found))
    prefixes = tuple([found[place][0] for place in keys])
    units = tuple([len(one) if one.isascii() else _count_units(one) for one in prefixes])
    return TokenTable(order, prefixes, keys, tuple([found[place][1] for place in keys]), units)


def _count_units(prefix: str) -> int:
    return len(prefix.encode("utf-16-le", "surrogatepass")) // 2


@lru_cache(maxsize=256)
def list_next(table: TokenTable, room: int) -> tuple[int, ...]:
    """For each row (1-based; 0 is before the first) the first from there on that fits in so many units.

    One past the last row stands for none.
    """
    following = [0] * (len(table.prefixes) + 2)
    following[-1] = at = len(table.prefixes) + 1
    for row in range(len(table.prefixes), 0, -1):
        at = row if table.units[row - 1] <= room else at
        following[row] = at
    following[0] = at
    return tuple(following)


class Places:
    """Places of a menu's names on one scale: `a` sorts strictly before `b` where its place is lower."""

    START = -1
    """Before every name."""

    def __init__(self, table: TokenTable, rests: Sequence[str], names: Sequence[str]) -> None:
        """`names` are the whole names that will be asked for (present names, bare names)."""
        key = sort_key(table.order)
        self._table = table
        self._order_rests(rests, key)
        keyed = {name: key(name) for name in names}
        ordered = sorted(keyed, key=keyed.__getitem__)
        self._unit = len(ordered) + 1
        self.row_size = 2 * (len(self._sorted) + 1) * self._unit
        self.row_end = 2 * len(self._sorted) * self._unit
        """Within a row: from here on stand names that lie behind all that its prefix makes."""
        self._of: dict[str, int] = {}
        rank, before = -1, None
        for name in ordered:
            rank += keyed[name] != before
            before = keyed[name]
            self._of[name] = self._find(keyed[name], rank, key)

    def of(self, name: str) -> int:
        """The place of a whole name."""
        return self._of[name]

    def slot(self, rest: str) -> int:
        """What a rest adds to the row of its prefix: `row * row_size + slot` is the prefixed name's place."""
        return self._slots[rest] * self._unit

    def _order_rests(self, rests: Sequence[str], key: SortKey) -> None:
        sample = self._table.prefixes[0] if self._table.prefixes else ""
        keyed = {rest: key(sample + rest) for rest in rests}
        self._sorted: list[str] = []
        self._slots: dict[str, int] = {}
        for rest in sorted(keyed, key=keyed.__getitem__):
            if not self._sorted or keyed[rest] != keyed[self._sorted[-1]]:
                self._sorted.append(rest)
            self._slots[rest] = 2 * len(self._sorted) - 1

    def _find(self, place: Any, rank: int, key: SortKey) -> int:
        """Between which rows it stands; and where its row's prefixed names lie on both sides, among them."""
        row = bisect_right(self._table.keys, place)
        slot = 2 * len(self._sorted)
        if row:
            prefix = self._table.prefixes[row - 1]
            if self._sorted and key(prefix + self._sorted[-1]) >= place:
                slot = 2 * bisect_left(self._sorted, place, key=lambda rest: key(prefix + rest))
                if key(prefix + self._sorted[slot // 2]) == place:
                    return row * self.row_size + (slot + 1) * self._unit
        return row * self.row_size + slot * self._unit + rank

"""A menu in the order wanted: every entry's name, with the least renaming that gives it.

Sorting alone is settled on the scale of `token_table`. What it cannot see is that two names which sort apart
may be one to the device (`A05 Boats`, `a05 boats`): where an answer holds such a pair, the search goes on
with one or the other of them forbidden, the cheapest answer first.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Collection, Container, Iterable, Iterator, Sequence
from itertools import count, pairwise

from workbench.order.collation import Order, sort_key
from workbench.order.least_renames import Choice, Choices, Row, find_choices
from workbench.order.spreading import Run, choose_rows, list_groups, runs_of
from workbench.order.token_table import Places, Pools, list_next, make_table
from workbench.values import dataclass, field, replace

_MOST_TRIES = 200

Ban = tuple[int, Choice | int]
"""An entry's number, and what it may not take: its own name, its bare name, or a row's prefix."""


@dataclass(frozen=True, slots=True)
class Wish:
    """One entry, in the wanted order."""

    name: str
    rest: str
    """The name without its prefix."""
    weight: int = 1
    """References that a rename touches."""
    room: int = 255
    """UTF-16 units that are left for a prefix; negative where the name cannot be written again."""
    can_be_bare: bool = True
    is_carried: bool = False


@dataclass(frozen=True, slots=True)
class Signs:
    """What prefixes are made of."""

    pools: Pools
    separator: str
    nested: bool = False
    """Whether each pool holds the ones before it (numbers)."""
    first_pools: frozenset[int] = field(default_factory=frozenset)
    """Pools that the menu uses already: tried before the others."""


@dataclass(frozen=True, slots=True)
class Names:
    """The names in the wanted order."""

    names: tuple[str, ...]
    out: tuple[int, ...] = ()
    """Entries that stand out of place, with their present names."""


class Arrangement:
    """Finds names for one wanted order, in one style."""

    def __init__(
        self,
        wishes: Sequence[Wish],
        order: Order,
        signs: Signs,
        *,
        fold: Callable[[str], str],
        taken: Collection[str] = (),
        is_shown: Callable[[str], bool] | None = None,
    ) -> None:
        """
        Args:
            fold: what two names have in common when they are one to the device.
            taken: other names in the folder.
            is_shown: whether the device lists a name; None where it lists every name that a prefix makes.
        """
        self._wishes = wishes
        self._key = sort_key(order)
        self._signs = signs
        self._fold = fold
        self._table = make_table(order, signs.pools, signs.separator)
        self._longest = max(self._table.units, default=0)
        self._taken = {fold(name) for name in taken}
        self._is_shown = is_shown
        rests = [wish.rest for wish in wishes]
        self._places = Places(self._table, rests, [*(wish.name for wish in wishes), *rests])
        self._groups = list_groups(signs.pools, nested=signs.nested)
        if signs.first_pools:
            self._groups.insert(0, signs.first_pools)
        banned = self._ban_taken()
        self._rows = [self._make_row(number, banned.get(number, set())) for number in range(len(wishes))]

    def find(self, *, out: bool = False) -> Names | None:
        """The names of least work; None where the style cannot give the order.

        Args:
            out: as few entries as can be may stand out of place, with their present names.
        """
        tries: list[tuple[int, int, frozenset[Ban], Choices]] = []
        numbers = count()
        self._push(tries, numbers, frozenset(), out)
        while tries and next(numbers) < 3 * _MOST_TRIES:
            _, _, bans, choices = heapq.heappop(tries)
            rows = self._with_bans(bans)
            found, used = self._name(rows, choices)
            clash = self._find_clash(found)
            if clash is None:
                return self._check(found, choices)
            for number in clash:
                if choices.kinds[number] != "out":
                    self._push(tries, numbers, bans | {(number, used[number])}, out)
        return None

    def _push(
        self,
        tries: list[tuple[int, int, frozenset[Ban], Choices]],
        numbers: Iterator[int],
        bans: frozenset[Ban],
        out: bool,
    ) -> None:
        rows = self._with_bans(bans)
        choices = find_choices(rows, self._places.row_size, len(self._table.prefixes), out=out)
        if choices is not None:
            heapq.heappush(tries, (choices.cost, next(numbers), bans, choices))

    def _make_row(self, number: int, banned: set[int]) -> Row:
        wish = self._wishes[number]
        following = list_next(self._table, min(wish.room, self._longest))
        can_be_bare = wish.can_be_bare and self._fold(wish.rest) not in self._taken
        return Row(
            keep=self._places.of(wish.name),
            bare=self._places.of(wish.rest) if can_be_bare and wish.rest != wish.name else None,
            slot=self._places.slot(wish.rest),
            following=following,
            weight=wish.weight,
            is_carried=wish.is_carried,
            banned=banned if self._is_shown is None else _Unfit(self, number, banned),
        )

    def shows(self, number: int, at: int) -> bool:
        """Whether the device lists the entry under that row's prefix."""
        assert self._is_shown is not None
        return self._is_shown(self._table.prefixes[at - 1] + self._wishes[number].rest)

    def _ban_taken(self) -> dict[int, set[int]]:
        """Rows that would give an entry a name which something else in the folder has."""
        if not self._taken:
            return {}
        by_prefix: dict[str, list[int]] = {}
        for at, prefix in enumerate(self._table.prefixes, 1):
            by_prefix.setdefault(self._fold(prefix), []).append(at)
        by_rest: dict[str, list[int]] = {}
        for number, wish in enumerate(self._wishes):
            by_rest.setdefault(self._fold(wish.rest), []).append(number)
        sign = self._fold(self._signs.separator)
        banned: dict[int, set[int]] = {}
        for name in self._taken:
            head, _, rest = name.partition(sign)
            for number in by_rest.get(rest, ()):
                banned.setdefault(number, set()).update(by_prefix.get(head + sign, ()))
        return banned

    def _with_bans(self, bans: frozenset[Ban]) -> list[Row]:
        rows = list(self._rows)
        for number, ban in bans:
            row = rows[number]
            if ban == "keep":
                rows[number] = replace(row, keep=None)
            elif ban == "bare":
                rows[number] = replace(row, bare=None)
            elif isinstance(ban, int):
                rows[number] = replace(row, banned=_Both(row.banned, ban))
        return rows

    def _name(self, rows: Sequence[Row], choices: Choices) -> tuple[list[str], list[Choice | int]]:
        """Whole names, and what each entry took (a row's number, where it took a prefix)."""
        kinds = choices.kinds
        names = [
            wish.rest if kind == "bare" else wish.name for wish, kind in zip(self._wishes, kinds, strict=True)
        ]
        used: list[Choice | int] = list(kinds)
        folded = {self._fold(name) for name, kind in zip(names, kinds, strict=True) if kind != "token"}
        for start, end in runs_of(kinds):
            numbers = [number for number in range(start, end) if kinds[number] == "token"]
            chosen = self._choose(
                rows, numbers, self._low(rows, kinds, start), self._high(rows, kinds, end), folded
            )
            for number, at in zip(numbers, chosen, strict=True):
                names[number] = self._table.prefixes[at - 1] + self._wishes[number].rest
                used[number] = at
                folded.add(self._fold(names[number]))
        return names, used

    def _choose(
        self, rows: Sequence[Row], numbers: Sequence[int], low: int, high: int | None, folded: Container[str]
    ) -> list[int]:
        def is_free(number: int, at: int) -> bool:
            name = self._table.prefixes[at - 1] + self._wishes[numbers[number]].rest
            return self._fold(name) not in folded

        run = Run([rows[number] for number in numbers], low, high, is_free)
        return choose_rows(run, self._table, self._places, self._groups, stepped=self._signs.nested)

    def _low(self, rows: Sequence[Row], kinds: Sequence[Choice], start: int) -> int:
        number = start - 1
        while number >= 0 and kinds[number] == "out":
            number -= 1
        if number < 0:
            return Places.START
        return _place_of(rows[number], kinds[number])

    def _high(self, rows: Sequence[Row], kinds: Sequence[Choice], end: int) -> int | None:
        return _place_of(rows[end], kinds[end]) if end < len(rows) else None

    def _find_clash(self, names: Iterable[str]) -> tuple[int, int] | None:
        """Two entries whose names are one to the device."""
        seen: dict[str, int] = {}
        for number, name in enumerate(names):
            other = seen.setdefault(self._fold(name), number)
            if other != number:
                return other, number
        return None

    def _check(self, names: Sequence[str], choices: Choices) -> Names | None:
        """The answer, once it is shown to sort as wanted under the collation itself."""
        out = tuple(number for number, kind in enumerate(choices.kinds) if kind == "out")
        placed = [self._key(name) for number, name in enumerate(names) if number not in set(out)]
        if not all(one < other for one, other in pairwise(placed)):
            return None
        return Names(tuple(names), out)


def _place_of(row: Row, kind: Choice) -> int:
    place = row.keep if kind == "keep" else row.bare
    assert place is not None
    return place


class _Both:
    """Rows that are banned, and one more."""

    def __init__(self, banned: Container[int], at: int) -> None:
        self._banned, self._at = banned, at

    def __contains__(self, at: object) -> bool:
        return at == self._at or at in self._banned


class _Unfit:
    """Rows that are banned, and those under which the device would not list the entry."""

    def __init__(self, arrangement: Arrangement, number: int, banned: set[int]) -> None:
        self._arrangement, self._number, self._banned = arrangement, number, banned
        self._known: dict[int, bool] = {}

    def __contains__(self, at: object) -> bool:
        assert isinstance(at, int)
        if at not in self._known:
            self._known[at] = at in self._banned or not self._arrangement.shows(self._number, at)
        return self._known[at]

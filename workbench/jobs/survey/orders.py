"""What a card cannot show is the order of its menus: pairs of names on which the orders differ settle it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from workbench.card.profile import Order
from workbench.jobs.survey.roster import MenuGuess
from workbench.order.collation import sort_names
from workbench.values import dataclass, field

ORDERS: tuple[Order, ...] = ("bytes", "letters", "natural", "letters-up", "directory")
"""As they are in use, the commonest first; no source, common practice."""


@dataclass(frozen=True, slots=True)
class Pair:
    """Two entries of one menu."""

    menu: MenuGuess = field(repr=False)
    parent: str | None
    one: str
    other: str


@dataclass(frozen=True, slots=True)
class OrderDoubt:
    """The orders that are left, and a pair that tells them apart; None where nothing does any more."""

    left: tuple[Order, ...]
    pair: Pair | None
    same: tuple[Order, ...]
    """Orders that list these menus alike: the first is as good as any."""


class Listings:
    """Each menu as each order would list it."""

    def __init__(self, menus: Sequence[MenuGuess]) -> None:
        self._menus = list(_lists(menus))
        self._ranks: list[dict[Order, dict[str, int]]] = [
            {order: {name: n for n, name in enumerate(_sorted(names, order))} for order in ORDERS}
            for _, _, names in self._menus
        ]

    def settle(self, answers: Mapping[str, str]) -> tuple[OrderDoubt, list[Pair]]:
        """What the answers leave open; also the pairs that were asked.

        Args:
            answers: the entry that comes first, by question (`order-1`, `order-2`, …).
        """
        left = ORDERS
        asked: list[Pair] = []
        while True:
            pair = self._find_pair(left)
            first = answers.get(f"order-{len(asked) + 1}")
            if pair is None or first not in (pair.one, pair.other):
                return OrderDoubt(left, pair, left), asked
            asked.append(pair)
            second = pair.other if first == pair.one else pair.one
            left = tuple(order for order in left if self._comes_first(pair, order, first, second))

    def _comes_first(self, pair: Pair, order: Order, first: str, second: str) -> bool:
        for (menu, parent, _), ranks in zip(self._menus, self._ranks, strict=True):
            if menu is pair.menu and parent == pair.parent:
                return ranks[order][first] < ranks[order][second]
        return False

    def _find_pair(self, left: Sequence[Order]) -> Pair | None:
        """Neighbours in one order that stand the other way round in about half of the others."""
        best: Pair | None = None
        best_split = 0.0
        for (menu, parent, _), ranks in zip(self._menus, self._ranks, strict=True):
            for order in left:
                names = list(ranks[order])
                for one, other in pairwise(names):
                    ahead = sum(1 for each in left if ranks[each][one] < ranks[each][other])
                    split = min(ahead, len(left) - ahead)
                    if split > best_split:
                        best, best_split = Pair(menu, parent, one, other), split
                        if split == len(left) // 2:
                            return best
        return best


def _lists(menus: Sequence[MenuGuess]) -> Iterator[tuple[MenuGuess, str | None, list[str]]]:
    for menu in menus:
        for home, parent in menu.homes.items():
            names = [name for key, name in menu.names.items() if key[0] == home]
            if len(names) > 1:
                yield menu, parent, names


def _sorted(names: Sequence[str], order: Order) -> list[str]:
    return list(names) if order == "directory" else sort_names(names, order)

"""The order that a person wants for a menu, as values: one order after the other, the last one wanted.

An entry is told by its key, which is where it was before anything waited: names change while a plan grows,
keys do not. Nothing is planned here.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Hashable, Iterable, Sequence
from itertools import count
from typing import TYPE_CHECKING, Any, Literal, TypeVar

from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.card.profile import PrefixStyle

Key = Hashable
Item = TypeVar("Item")

_sessions = count(1)


@dataclass(frozen=True, slots=True)
class Prefixing:
    """How prefixes are made; None leaves it to the profile."""

    style: PrefixStyle | None = None
    separator: str | None = None


@dataclass(frozen=True, slots=True)
class Move:
    """One move, and the order that it led to."""

    title: str
    keys: tuple[Key, ...]
    carried: tuple[Key, ...] = ()
    """The entries that the person moved."""


@dataclass(frozen=True, slots=True)
class Arranging:
    """The moves in one menu that will become one wish."""

    session: int
    menu_id: str
    start: tuple[Key, ...]
    """The order before the first move."""
    moves: tuple[Move, ...] = ()
    prefixing: Prefixing = Prefixing()

    @classmethod
    def begin(cls, menu_id: str, start: Iterable[Key], prefixing: Prefixing) -> Arranging:
        """No move yet."""
        return cls(next(_sessions), menu_id, tuple(start), (), prefixing)

    @property
    def keys(self) -> tuple[Key, ...]:
        """The wanted order."""
        return self.moves[-1].keys if self.moves else self.start

    @property
    def title(self) -> str:
        """What it is called among the changes of a card."""
        if len(self.moves) == 1:
            return self.moves[0].title
        return f"Arrange {self.menu_id}, {len(self.moves)} moves"

    @property
    def carried(self) -> frozenset[Key]:
        """The entries that the person moved, all told."""
        return frozenset(key for move in self.moves for key in move.carried)

    def moved(self, title: str, keys: Iterable[Key], carried: Iterable[Key] = ()) -> Arranging:
        """With one move more."""
        return replace(self, moves=(*self.moves, Move(title, tuple(keys), tuple(carried))))

    def without_last(self) -> Arranging:
        """Without the last move."""
        return replace(self, moves=self.moves[:-1])


# Orders made of orders


def gathered(items: Sequence[Item], block: Sequence[Item], at: int) -> list[Item]:
    """The order with the items of `block` together, so many of the others before them."""
    rest = _without(items, block)
    at = max(0, min(at, len(rest)))
    return [*rest[:at], *block, *rest[at:]]


def placed_beside(
    items: Sequence[Item], block: Sequence[Item], other: Item, side: Literal["before", "after"]
) -> list[Item]:
    """The order with the block directly before or after another item, which is none of the block's own."""
    rest = _without(items, block)
    return gathered(items, block, rest.index(other) + (side == "after"))


def changed_in_place(
    items: Sequence[Item], chosen: Collection[Item], change: Callable[[list[Item]], Iterable[Item]]
) -> list[Item]:
    """The order with the chosen items put otherwise into the places that they have among them."""
    held = set(chosen)
    places = [place for place, item in enumerate(items) if item in held]
    made = list(items)
    for place, item in zip(places, change([items[place] for place in places]), strict=True):
        made[place] = item
    return made


def in_order(items: Iterable[Item], keys: Sequence[Key], key_of: Callable[[Item], Key]) -> list[Item] | None:
    """The items in the order of their keys; None where the keys are not theirs."""
    by_key = {key_of(item): item for item in items}
    if len(by_key) != len(keys) or not all(key in by_key for key in keys):
        return None
    return [by_key[key] for key in keys]


def text_key(text: str) -> Any:
    """Sorts texts as a person would: case and accents aside, digits by their value."""
    from unicodedata import combining, normalize

    from workbench.order.collation import sort_key

    plain = "".join(char for char in normalize("NFD", text.casefold()) if not combining(char))
    return sort_key("natural")(plain)


def _without(items: Sequence[Item], block: Collection[Item]) -> list[Item]:
    held = set(block)
    return [item for item in items if item not in held]

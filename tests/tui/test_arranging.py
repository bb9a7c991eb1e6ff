"""Wanted orders as values: blocks gathered and placed, places kept, moves one after the other."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.tui.arranging import (
    Arranging,
    Prefixing,
    changed_in_place,
    gathered,
    in_order,
    placed_beside,
    text_key,
)

orders = st.lists(st.integers(), min_size=1, max_size=12, unique=True)


@given(orders, st.data())
def test_a_gathered_block_stands_together_and_nothing_is_lost(items: list[int], data: st.DataObject) -> None:
    """The block in its own order, so many of the others before it, the others in theirs."""
    block = data.draw(st.lists(st.sampled_from(items), min_size=1, unique=True))
    at = data.draw(st.integers(-3, len(items) + 3))
    made = gathered(items, block, at)
    start = made.index(block[0])
    assert made[start : start + len(block)] == block
    assert [item for item in made if item not in block] == [item for item in items if item not in block]
    assert start == max(0, min(at, len(items) - len(block)))


@given(orders, st.data())
def test_turning_round_twice_is_nothing(items: list[int], data: st.DataObject) -> None:
    """And what was not chosen never moves."""
    chosen = data.draw(st.sets(st.sampled_from(items)))
    made = changed_in_place(items, chosen, lambda held: held[::-1])
    assert all(a == b for a, b in zip(items, made, strict=True) if a not in chosen)
    assert changed_in_place(made, chosen, lambda held: held[::-1]) == items


@pytest.mark.parametrize(("side", "wanted"), [("before", "cabde"), ("after", "cdabe")])
def test_a_block_is_placed_beside_another(side: str, wanted: str) -> None:
    """Directly before or after it."""
    assert "".join(placed_beside("abcde", "ab", "d", side)) == wanted  # type: ignore[arg-type]


def test_items_are_put_in_the_order_of_keys_only_if_the_keys_are_theirs() -> None:
    """One more, one less, or another: no order."""
    assert in_order(["a", "bb"], [2, 1], len) == ["bb", "a"]
    assert all(in_order(["a", "bb"], keys, len) is None for keys in ([1], [1, 3], [1, 2, 3]))


def test_each_move_can_be_taken_back_alone() -> None:
    """The last order wanted is the one before it; with none left it is the start."""
    arranging = Arranging.begin("shelf", "abc", Prefixing()).moved("one", "bac").moved("two", "cba")
    assert arranging.title == "Arrange shelf, 2 moves" and "".join(map(str, arranging.keys)) == "cba"
    back = arranging.without_last()
    assert back.title == "one" and "".join(map(str, back.without_last().keys)) == "abc"


def test_who_was_carried_is_remembered_until_the_move_is_taken_back() -> None:
    """All told over the moves: where the work is equal, these are renamed and not their neighbours."""
    arranging = Arranging.begin("shelf", "abc", Prefixing()).moved("one", "bac", "b").moved("two", "cba", "c")
    assert arranging.carried == {"b", "c"}
    assert arranging.without_last().carried == {"b"}


def test_texts_sort_as_a_person_would() -> None:
    """Case and accents aside, digits by value; a plain `sorted` puts them otherwise (from memory)."""
    texts = ["Zebra", "été 10", "Éte 9", "boat", "Ärger"]
    assert sorted(texts, key=text_key) == ["Ärger", "boat", "Éte 9", "été 10", "Zebra"]

"""The least renaming, against trying everything: every set of kept names, every way to name the others."""

from __future__ import annotations

import itertools
import random
import unicodedata

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.order.arrangement import Arrangement, Signs, Wish
from workbench.order.collation import sort_key

ORDERS = ["bytes", "letters", "letters-up", "natural"]
SMALL = (("05", "1"), ("aa",), ("m3", "M05", "m05"), ("!",))
"""A token language small enough to try out whole."""


def fold(name):
    """One name to the device: FAT is case-insensitive (FAT32 specification 1.03), hosts compose letters."""
    return unicodedata.normalize("NFC", unicodedata.normalize("NFC", name).upper())


def cheapest(wishes, order, pools, separator, taken=(), limit=255):
    """The lowest (weight, renames) of all ways to name a menu, or None: tries them one by one."""
    key = sort_key(order)
    taken = {fold(name) for name in taken}
    choices = []
    for wish in wishes:
        made = [wish.rest, *(token + separator + wish.rest for pool in pools for token in pool)]
        fit = [name for name in made if len(name) <= limit and fold(name) not in taken and name != wish.name]
        choices.append(sorted(fit, key=key))

    def can_name(number, last, used, kept):
        if number == len(wishes):
            return True
        pool = [wishes[number].name] if number in kept else choices[number]
        return any(
            (last is None or key(last) < key(name))
            and fold(name) not in used
            and can_name(number + 1, name, used | {fold(name)}, kept)
            for name in pool
        )

    best = None
    for count in range(len(wishes), -1, -1):
        for kept in itertools.combinations(range(len(wishes)), count):
            moved = [wish for number, wish in enumerate(wishes) if number not in kept]
            cost = sum(wish.weight for wish in moved), len(moved)
            if (best is None or cost < best) and can_name(0, None, frozenset(), set(kept)):
                best = cost
    return best


def check(wishes, order, pools=SMALL, separator=" ", taken=(), limit=255):
    """What the search finds is in order, legal, and costs what the cheapest way costs."""
    roomy = [
        Wish(w.name, w.rest, w.weight, limit - len(w.rest), len(w.rest) <= limit, w.is_carried)
        for w in wishes
    ]
    found = Arrangement(roomy, order, Signs(pools, separator), fold=fold, taken=taken).find()
    wanted = cheapest(wishes, order, pools, separator, taken, limit)
    if found is None:
        assert wanted is None
        return
    key = sort_key(order)
    assert all(key(one) < key(other) for one, other in itertools.pairwise(found.names))
    assert len({fold(name) for name in found.names}) == len(wishes)
    made = {w.name: {w.name, w.rest, *(t + separator + w.rest for p in pools for t in p)} for w in wishes}
    moved = [w for w, name in zip(wishes, found.names, strict=True) if name != w.name]
    for wish, name in zip(wishes, found.names, strict=True):
        assert name in made[wish.name]
        assert name == wish.name or (len(name) <= limit and fold(name) not in map(fold, taken))
    assert (sum(wish.weight for wish in moved), len(moved)) == wanted


RESTS = ["a", "B", "_x", "aa b", "M", "1", "05", "5 b", "é", "e\u0301", "É", "z", "[q]", "m3", "12a", "~"]
PREFIXES = ["", "", "05 ", "1 ", "aa ", "m3 ", "M05 ", "m05 ", "! ", "zz ", "a0 "]
names = st.tuples(st.sampled_from(PREFIXES), st.sampled_from(RESTS))
menus = st.lists(
    st.tuples(names, st.integers(0, 3)), min_size=1, max_size=5, unique_by=lambda one: fold("".join(one[0]))
)


def make_wishes(menu):
    return [Wish(prefix + rest, rest, weight) for (prefix, rest), weight in menu]


@pytest.mark.parametrize("order", ORDERS)
@settings(max_examples=150, deadline=None)
@given(menu=menus, limit=st.sampled_from([4, 6, 255]), taken=st.lists(names, max_size=3))
def test_least_work_is_least(order, menu, limit, taken):
    """No other set of kept names weighs more, whatever the collation, limits and names in the way."""
    own = {fold(prefix + rest) for (prefix, rest), _ in menu}
    beside = [p + r for p, r in taken if fold(p + r) not in own]
    check(make_wishes(menu), order, limit=limit, taken=beside)


@pytest.mark.parametrize("order", ORDERS)
@pytest.mark.parametrize("seed", range(6))
def test_every_menu_of_seven(order, seed):
    """Menus of up to seven entries, each in several wanted orders, seeded."""
    picks = random.Random(seed)
    pool = {fold(p + r): (p, r) for p in PREFIXES for r in RESTS}
    menu = [(pair, picks.randint(0, 4)) for pair in picks.sample(sorted(pool.values()), 7)]
    for size in range(1, 8):
        part = picks.sample(menu, size)
        check(make_wishes(part), order, pools=SMALL[:2] + SMALL[3:], separator=picks.choice(" -_."))


@pytest.mark.parametrize("order", ORDERS)
def test_every_order_of_every_small_menu(order):
    """All orders of all menus of four out of seven awkward names."""
    some = [("", "B"), ("05 ", "B"), ("", "_x"), ("aa ", "a"), ("", "5 b"), ("m05 ", "z"), ("", "a")]
    for four in itertools.combinations(some, 4):
        for wanted in itertools.permutations(four):
            check([Wish(p + r, r, 1 + len(p)) for p, r in wanted], order, pools=(("05", "aa", "M05", "m05"),))


def fewest_out(wishes, order, pools, separator, limit):
    """The fewest entries that have to stand elsewhere, under their present names: tries every set of them."""
    for count in range(len(wishes) + 1):
        for out in itertools.combinations(range(len(wishes)), count):
            placed = [wish for number, wish in enumerate(wishes) if number not in out]
            left = [wishes[number].name for number in out]
            if cheapest(placed, order, pools, separator, left, limit) is not None:
                return count
    return None


@pytest.mark.parametrize("order", ORDERS)
@settings(max_examples=100, deadline=None)
@given(menu=menus.filter(lambda menu: len(menu) <= 4), limit=st.sampled_from([3, 4, 5]))
def test_the_nearest_order_has_the_fewest_out_of_place(order, menu, limit):
    """Where names have no room for prefixes, as few entries as can be stand elsewhere, the rest as wanted."""
    wishes = make_wishes(menu)
    roomy = [Wish(w.name, w.rest, w.weight, limit - len(w.rest), len(w.rest) <= limit) for w in wishes]
    found = Arrangement(roomy, order, Signs(SMALL, " "), fold=fold).find(out=True)
    assert found is not None
    assert len(found.out) == fewest_out(wishes, order, SMALL, " ", limit)
    key = sort_key(order)
    placed = [name for number, name in enumerate(found.names) if number not in found.out]
    assert all(key(one) < key(other) for one, other in itertools.pairwise(placed))
    assert len({fold(name) for name in found.names}) == len(wishes)
    assert all(found.names[number] == wishes[number].name for number in found.out)

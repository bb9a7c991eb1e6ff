"""The model of an edit, against the same wish on plain Python data."""

from __future__ import annotations

import math

import pytest

from workbench.manifests.plain_data import (
    has_value,
    is_same,
    value_at,
    with_item,
    with_key,
    with_value,
    without_value,
)

DATA = {"a": [1, {"b": "c"}], "d": {}}


def test_edits_leave_their_source_alone() -> None:
    """Each gives a copy."""
    assert with_value(DATA, ("a", "1", "b"), 2) == {"a": [1, {"b": 2}], "d": {}}
    assert with_value(DATA, ("d", "new"), 2) == {"a": [1, {"b": "c"}], "d": {"new": 2}}
    assert with_item(DATA, ("a", "0"), 0) == {"a": [0, 1, {"b": "c"}], "d": {}}
    assert with_item(DATA, ("a", "-"), 0) == {"a": [1, {"b": "c"}, 0], "d": {}}
    assert without_value(DATA, ("a", "0")) == {"a": [{"b": "c"}], "d": {}}
    assert with_key(DATA, ("d",), "e") == {"a": [1, {"b": "c"}], "e": {}}
    assert DATA == {"a": [1, {"b": "c"}], "d": {}}


@pytest.mark.parametrize("path", [("x",), ("a", "2"), ("a", "-"), ("a", "00"), ("a", "0", "b"), ("d", "x")])
def test_a_missing_place_is_no_place(path: tuple[str, ...]) -> None:
    """An index has no leading zero (RFC 6901, 4)."""
    assert not has_value(DATA, path)
    with pytest.raises(KeyError):
        value_at(DATA, path)


@pytest.mark.parametrize(
    ("one", "other"), [(1, True), (1, 1.0), ([1], [1, 2]), ({"a": 1}, {"b": 1}), ("1", 1)]
)
def test_kinds_count(one: object, other: object) -> None:
    """Equal is not the same."""
    assert not is_same(one, other)
    assert is_same([one, math.nan, {"x": other}], [one, math.nan, {"x": other}])

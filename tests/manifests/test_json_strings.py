"""Strings found by their number are those that a walk through the text itself finds."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.manifests.json_document import open_json
from workbench.manifests.json_find import UNGUIDED, find_texts
from workbench.manifests.json_strings import JsonStrings
from workbench.manifests.selector import Selector

NAMES = st.sampled_from(["a", "b", "", "0", "1", "a/b", "~", 'q"q', "back\\", "é", "\U0001f600", "a_s", "\n"])
VALUES = st.recursive(
    st.one_of(NAMES, st.integers(), st.booleans(), st.none()),
    lambda inner: st.one_of(st.lists(inner, max_size=4), st.dictionaries(NAMES, inner, max_size=4)),
    max_leaves=14,
)
SELECTORS = [
    "",
    "/a",
    "/{entry}",
    "/{x}/a",
    "/a/{entry}",
    "/{x}/{x}",
    "/{x}/{y}/{z}",
    "/{entry}_s",
    "/0/{i}",
    "/{i}/0",
]


@settings(max_examples=300, deadline=None)
@given(VALUES, st.sampled_from(SELECTORS), st.booleans(), st.sampled_from([None, 1]))
def test_the_numbers_find_what_a_walk_finds(value, at, ascii_only, indent):
    """The same keys and texts, at the same places, with the same bindings, in the same order."""
    text = json.dumps(value, ensure_ascii=ascii_only, indent=indent)
    selector = Selector.parse(at)
    strings = JsonStrings(text, json.loads(text))
    assert strings.is_sound
    walked = [tuple(one) for one in find_texts(text, UNGUIDED, selector, lambda _: True)]
    assert strings.find(selector.tokens) == walked


@pytest.mark.parametrize("text", ['{"a": "x", "a": "y"}', '{"b": {"a": 1, "a": "y"}}'])
def test_a_key_that_stands_twice_is_walked_to(text):
    """The data holds the second only; both are found."""
    document = open_json(text.encode())
    at = Selector.parse("/{entry}" if text.startswith('{"a"') else "/b/{entry}")
    assert [node.text for node in document.find(at) if node.role == "key"] == ["a", "a"]


def test_comments_are_no_strings():
    """What a file has beyond strict JSON is blank to the search."""
    document = open_json(b'{\n  // "no"\n  "a": "x", /* "b": "no" */\n  "c": "y",\n}\n')
    found = [(node.text, node.line) for node in document.find(Selector.parse("/{entry}"))]
    assert found == [("a", 3), ("x", 3), ("c", 4), ("y", 4)]

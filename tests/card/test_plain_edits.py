"""The short way to an edit gives what the document's own way gives, or nothing."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.rewriting import _edit_plain
from workbench.manifests.document import apply_edits
from workbench.manifests.opening import open_document
from workbench.manifests.selector import Selector

TEXTS = st.text(st.sampled_from("aB1 _-./\\\"'&<é"), min_size=1, max_size=8)

FORMS = [
    ("json", lambda text: json.dumps({"a": text}), "/a"),
    ("json", lambda text: json.dumps({text: 1}), "/{entry}"),
    ("toml", lambda text: f"a = {json.dumps(text)}\n", "/a"),
    ("toml", lambda text: f"{json.dumps(text)} = 1\n", "/{entry}"),
    ("xml", lambda text: f"<a b='{text}'/>", "/a/0/@b"),
    ("xml", lambda text: f"<a>{text}</a>", "/a/0/#text"),
]


@pytest.mark.parametrize(("format", "write", "at"), FORMS)
@given(text=TEXTS, new=TEXTS, cut=st.tuples(st.integers(0, 8), st.integers(0, 8)))
def test_both_ways_agree(format, write, at, text, new, cut):
    """Any part of any text, in strings, keys, attributes and element texts."""
    try:
        document = open_document(write(text).encode(), format)
        node = next(iter(document.find(Selector.parse(at))), None)
        start, end = sorted(min(place, len(node.text)) for place in cut) if node else (0, 0)
        short = node and _edit_plain(document, node, start, end, new)
        if not short:
            return
        long = document.replace_part(node, start, end, new)
    except Exception as error:
        assert type(error).__name__ == "ManifestError"
        return
    assert apply_edits(document.raw, [short]) == apply_edits(document.raw, [long])


def test_the_short_way_is_taken():
    """A new prefix in a plain JSON string needs no decoding."""
    document = open_document(b'{"a": "Boats"}', "json")
    node = next(iter(document.find(Selector.parse("/a"))))
    edit = _edit_plain(document, node, 0, 0, "05 ")
    assert edit is not None and apply_edits(document.raw, [edit]) == b'{"a": "05 Boats"}'

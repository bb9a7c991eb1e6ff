"""Wishes one after the other come out as one set of edits of the first bytes."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.paths import VolumePath
from workbench.errors import ManifestError
from workbench.jobs.reworking import Reworked
from workbench.manifests.document import Edit, apply_edits
from workbench.manifests.opening import open_document

AT = VolumePath("data", "list.txt")


@given(st.lists(st.tuples(st.integers(0, 40), st.integers(0, 12), st.text("abc", max_size=9)), max_size=8))
def test_edits_of_edits_are_edits_of_the_start(wishes):
    """Whatever is done in turn, the gathered edits turn the first bytes into the last."""
    raw = b"the first bytes of a plain list, long enough"
    reworked = Reworked(open_document(raw, "lines", str(AT)), AT, {})
    for start, size, text in wishes:
        now = reworked.document.raw
        first = min(start, len(now))
        edit = Edit(first, min(first + size, len(now)), text.encode())
        reworked.do(lambda _, edit=edit: [edit])
    assert apply_edits(raw, reworked.edits) == reworked.document.raw
    write = reworked.write()
    assert (write is None) == (raw == reworked.document.raw)


def test_members_come_and_go_in_one_manifest():
    """Two members out, one in: `json` reads what is left, and the comment stays."""
    raw = b'{\n  // kept\n  "a": 1,\n  "b": [1, 2],\n  "c": 3\n}\n'
    reworked = Reworked(open_document(raw, "json", str(AT)), AT, {})
    for wish in (lambda d: d.delete("/c"), lambda d: d.delete("/b"), lambda d: d.insert("/d", {"e": "f"})):
        reworked.do(wish)
    after = apply_edits(raw, reworked.edits)
    assert b"// kept" in after
    assert json.loads(after.replace(b"// kept", b"")) == {"a": 1, "d": {"e": "f"}}


def test_a_refused_wish_leaves_what_was_done_before():
    """The second wish is refused; the first stands."""
    reworked = Reworked(open_document(b'{"a": 1}', "json", str(AT)), AT, {})
    reworked.do(lambda document: document.set("/a", 2))
    with pytest.raises(ManifestError):
        reworked.do(lambda document: document.insert("/a", 3))
    assert json.loads(reworked.document.raw) == {"a": 2}

"""Texts are put where a pointer says, and values taken out, whatever is there already."""

from __future__ import annotations

import json
import tomllib
import xml.etree.ElementTree as ET

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.paths import VolumePath
from workbench.jobs.placing import delete_all, put_text
from workbench.jobs.reworking import Reworked
from workbench.manifests.document import apply_edits
from workbench.manifests.opening import open_document

AT = VolumePath("data", "list")


def reworked(raw: bytes, format) -> Reworked:
    return Reworked(open_document(raw, format, str(AT)), AT, {})


@given(
    st.lists(st.sampled_from(["a", "b", "c d", "#x"]), max_size=12), st.data(), st.sampled_from(["", "\n"])
)
def test_many_lines_go_at_once(lines, data, end):
    """Exactly the lines that were named go; the others stay as they are, in their order."""
    raw = ("\n".join(lines) + (end if lines else "")).encode()
    gone = data.draw(st.sets(st.integers(0, max(0, len(lines) - 1)), max_size=len(lines))) if lines else set()
    work = reworked(raw, "lines")
    delete_all(work, {f"/{number}" for number in gone})
    kept = [line for number, line in enumerate(lines) if number not in gone]
    assert work.document.raw.decode().splitlines() == kept
    assert apply_edits(raw, work.edits) == work.document.raw


def test_tags_go_with_their_lines():
    """In extended M3U (RFC 8216, 4.1) the tag above a line goes with it."""
    raw = b"#EXTM3U\n#EXTINF:1,A\na\n#EXTINF:2,B\nb\n#EXTINF:3,C\nc\n"
    work = reworked(raw, "lines")
    delete_all(work, {"/0", "/2"})
    assert work.document.raw == b"#EXTM3U\n#EXTINF:2,B\nb\n"


def test_items_keep_their_numbers():
    """Items of one array are taken out last first, so that each number means what it meant."""
    work = reworked(b'{"a": [0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11], "b": 1}', "json")
    delete_all(work, {"/a/2", "/a/10", "/a/11", "/b"})
    assert json.loads(work.document.raw) == {"a": [0, 1, 3, 4, 5, 6, 7, 8, 9]}


@pytest.mark.parametrize(("format", "raw", "pointer"), [
    ("json", b"{}", "/a/b/c"), ("json", b'{"a": {"b": {"c": "x"}}}', "/a/b/c"),
    ("json", b'{"a": {}}', "/a/b/c"),
    ("toml", b"", "/a/b/c"), ("toml", b"[a]\nx = 1\n", "/a/b/c"), ("toml", b"[a.b]\nc = 'x'\n", "/a/b/c"),
])  # fmt: skip
def test_what_is_missing_on_the_way_is_made(format, raw, pointer):
    """The text is at the pointer afterwards, by the standard library."""
    after = apply_edits(raw, put_text(open_document(raw, format), pointer, "new"))
    read = json.loads(after) if format == "json" else tomllib.loads(after.decode())
    assert read["a"]["b"]["c"] == "new"


@pytest.mark.parametrize("raw", [b"<r/>", b"<r><i/></r>", b"<r><i><t/></i></r>", b"<r><i><t>x</t></i></r>"])
def test_elements_are_made_too(raw):
    """In XML the elements on the way to a text are made; an attribute is added to one that is there."""
    document = open_document(raw, "xml")
    after = apply_edits(raw, put_text(document, "/r/0/i/0/t/0/#text", "n & m"))
    assert ET.fromstring(after).findtext("i/t") == "n & m"
    named = apply_edits(raw, put_text(document, "/r/0/i/0/@k", "n & m"))
    assert ET.fromstring(named).find("i").get("k") == "n & m"

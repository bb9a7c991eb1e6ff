"""Who can tell where the texts stand that could match finds the same, only sooner."""

from __future__ import annotations

import json

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.card.needle import Needle
from workbench.errors import ManifestError
from workbench.manifests.opening import find_matching, open_document
from workbench.manifests.selector import Selector

TEXTS = st.sampled_from(
    ["Boats", "a/boats/b", "x", "BO'ATS", 'say "Boats"', "é Boats", "Kites", "", "1", "50%"]
)
LINES = st.sampled_from(["[Boats]", "[x]", "a=boats", "Boats=1", "b=x", "# Boats", "c='Boats'"])
AT = ["/rows/{row}/opens", "/rows/{row}", "/{key}/{field}", "/pinned/{entry}", "/{entry}", "/rows/0/opens"]


def _same(raw: bytes, format: str, at: str | None) -> None:
    needle = Needle("Boats", "fat")
    selector = None if at is None else Selector.parse(at)
    plain, quick = (
        list(find_matching(open_document(raw, format), selector, could))
        for could in (needle.could_be_in, needle)
    )
    assert quick == plain


@pytest.mark.parametrize("at", AT)
@settings(max_examples=60, deadline=None)
@given(st.lists(TEXTS, max_size=6), st.dictionaries(TEXTS, TEXTS, max_size=4), st.booleans())
def test_in_json(at, rows, pinned, ascii_only):
    """Keys and values at every depth, with and without escapes."""
    data = {"rows": [{"opens": row, "n": 1} for row in rows], "pinned": pinned, "Boats": rows[:1]}
    _same(json.dumps(data, indent=1, ensure_ascii=ascii_only).encode(), "json", at)


@pytest.mark.parametrize(
    "at", [None, "/rows/{row}/opens", "/{entry}", "/things/{entry}/{field}", "/list/{row}"]
)
@settings(max_examples=60, deadline=None)
@given(st.lists(TEXTS, max_size=4), st.booleans())
def test_in_toml(at, texts, is_wide):
    """Tables, arrays of tables, lists over several lines and inline tables, with comments between."""
    lines = [f"{json.dumps(text, ensure_ascii=not is_wide)}," for text in texts]
    rows = [f"[[rows]]\nopens = {line[:-1]} # Boats" for line in lines]
    things = [
        f"[things.{line[:-1]}{number}]\nx = 'boats'" for number, line in enumerate(lines) if len(line) > 3
    ]
    raw = "\n".join(["list = [", *lines, "]", "Boats = { a = 'Boats' }", *rows, *things])
    try:
        open_document(raw.encode(), "toml")
    except ManifestError:
        return
    _same(raw.encode(), "toml", at)


@pytest.mark.parametrize("format", ["ini", "keyvalue", "lines", "toml", "shell"])
@settings(max_examples=60, deadline=None)
@given(st.lists(LINES), st.booleans())
def test_in_lines(format, lines, is_dos):
    """Sections, keys, values and lines; what only one format knows as well formed is passed by."""
    raw = ("\r\n" if is_dos else "\n").join(lines).encode()
    try:
        open_document(raw, format)
    except ManifestError:
        return
    _same(raw, format, None)

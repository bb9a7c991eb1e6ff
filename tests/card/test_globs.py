"""Patterns of a profile against paths."""

from __future__ import annotations

import pytest

from workbench.card.globs import matches_any, translate

# `*`, `?`, `[…]` are those of POSIX XCU 2.13 within a name; `**` is common practice, no standard.
TABLE = [
    ("a/b.json", "a/b.json", {}),
    ("a/b.json", "a/c/b.json", None),
    ("a/*.json", "a/b.json", {}),
    ("a/*.json", "a/b/c.json", None),
    ("**/begin", "begin", {}),
    ("**/begin", "a/b/begin", {}),
    ("shelf/**/begin", "shelf/begin", {}),
    ("shelf/**/begin", "shelf/a/b/begin", {}),
    ("shelf/**/begin", "shelfish/begin", None),
    ("shelf/**", "shelf/a/b", {}),
    ("a/{entry}/x", "a/Boats 2/x", {"entry": "Boats 2"}),
    ("a/{entry}_s.png", "a/Boats_s.png", {"entry": "Boats"}),
    ("a/{entry}/{entry}.ini", "a/Boats/Boats.ini", {"entry": "Boats"}),
    ("a/{entry}/{entry}.ini", "a/Boats/Kites.ini", None),
    ("a/{entry}/b/{entry}/c", "a/x/b/x/c", {"entry": "x"}),
    ("a/{entry}/b/{entry}/c", "a/x/b/y/c", None),
    ("a/?.txt", "a/é.txt", {}),
    ("a/[xy].txt", "a/y.txt", {}),
    ("a/[!xy].txt", "a/y.txt", None),
    ("a+b/c.d", "a+b/cxd", None),
]


@pytest.mark.parametrize(("pattern", "path", "wanted"), TABLE)
def test_match(pattern, path, wanted):
    """A pattern fits the paths that it should, and binds what stands there."""
    found = translate(pattern, fold=False).match(path)
    assert (found if found is None else dict(found)) == wanted


def test_fold():
    """Where the device does not mind case, neither does the pattern."""
    assert translate("House/*.JSON", fold=True).match("hoUSE/a.json") == {}
    assert translate("House/*.JSON", fold=False).match("house/a.json") is None


def test_fixed_placeholders_are_literal():
    """What a placeholder stands for is text, even where it looks like a pattern."""
    glob = translate("a/{parent}/*", fold=False, fixed={"parent": "x[1]*"})
    assert glob.match("a/x[1]*/y") == {}
    assert glob.match("a/x1z/y") is None


def test_matches_any():
    """Hidden names."""
    assert matches_any(".x", [".*"], fold=True)
    assert not matches_any("x.", [".*"], fold=True)

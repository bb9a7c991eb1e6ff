"""INI files, checked against Python's configparser (the only reference: INI has no standard)."""

from __future__ import annotations

import configparser
import re
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.ini_document import IniDocument, open_ini
from workbench.manifests.selector import Selector

ODD = b"""; file\r
\r
before = 1\r
\r
# about Boats\r
[Boats [USA]]   ; header\r
Says = "Fast boats"  ; kept\r
  path: shelf/Boats [USA].tale\r
long = one\r
   two\r
\ttwo and a half\r
flag\r
empty=\r
\r
; about cars\r
[cars]\r
x=1"""


def read_by_configparser(raw: bytes) -> dict[str, dict[str, str | None]]:
    parser = configparser.RawConfigParser(
        strict=False, allow_no_value=True, empty_lines_in_values=False, default_section="\0none"
    )
    parser.optionxform = str  # type: ignore[method-assign, assignment]
    # An indented `key = value` is a member to us and a continuation to configparser: settle that first.
    text = re.sub(r"(?m)^[ \t]+(?=[\w.-]+[ \t]*(=|:(?!//))|\[)", "", raw.decode())
    parser.read_string("[]]\n" + text)
    return {"" if name == "]" else name: dict(parser.items(name)) for name in parser.sections()}


def unquoted(value: str | None) -> str | None:
    """What a value means once quotes around the whole of it are taken away."""
    return open_ini(f"k={value}".encode()).get("//k") if value and "\n" not in value else value


def read_by_us(raw: bytes) -> dict[str, dict[str, str | None]]:
    return {"": {}, **open_ini(raw).get("")}


def test_odd_formatting_is_read_as_configparser_reads_it() -> None:
    """Sections, keys in their own case, `=` and `:`, bare keys, continued values."""
    theirs = read_by_configparser(ODD)
    assert theirs["Boats [USA]"].pop("Says") == '"Fast boats"  ; kept'
    ours = read_by_us(ODD)
    assert ours["Boats [USA]"].pop("Says") == "Fast boats"
    assert ours == theirs


LINE = st.sampled_from(
    ["[a]", "[b c]", "  [d]", "k=1", "k = 2", "K:3", "  in = x", "    deeper", "\tdeep = y", "bare", "; c",
     "# c", "", "   ", "é = ü", "q = 'x'", "u = http://x", "[e] ; c", "= x", "[open", "w = [z]"]
)  # fmt: skip


@given(st.lists(LINE, max_size=9), st.sampled_from(["\n", "\r\n"]))
def test_any_mix_of_lines_is_read_as_configparser_reads_it(lines: list[str], ending: str) -> None:
    """Where ours refuses to open, configparser refuses too, or guesses (a header that is never closed)."""
    raw = ending.join(lines).encode()
    try:
        ours = read_by_us(raw)
    except ManifestError:
        with pytest.raises((configparser.Error, AttributeError)):
            read_by_configparser(raw.replace(b"[open", b"= open"))
        return
    theirs = read_by_configparser(raw)
    assert ours == {
        name: {key: unquoted(value) for key, value in them.items()} for name, them in theirs.items()
    }


@pytest.mark.parametrize(
    ("wish", "before", "after"),
    [
        (lambda d: d.set("/Boats [USA]/Says", "Slow"), b'"Fast boats"', b'"Slow"'),
        (lambda d: d.set("/Boats [USA]/path", "a b"), b"shelf/Boats [USA].tale", b"a b"),
        (lambda d: d.set("/Boats [USA]/long", "1"), b"one\r\n   two\r\n\ttwo and a half", b"1"),
        (lambda d: d.set("/Boats [USA]/flag", "on"), b"flag\r", b"flag = on\r"),
        (lambda d: d.set("/Boats [USA]/empty", "on"), b"empty=\r", b"empty=on\r"),
        (lambda d: d.insert("/Boats [USA]/new", "v"), b"empty=\r\n", b"empty=\r\nnew=v\r\n"),
        (lambda d: d.insert("/cars/y", "2"), b"x=1", b"x=1\r\ny=2"),
        (lambda d: d.insert("//after", "2"), b"before = 1\r\n", b"before = 1\r\nafter = 2\r\n"),
        (lambda d: d.insert("/new", {"a": "b"}), b"x=1", b"x=1\r\n\r\n[new]\r\na=b"),
        (lambda d: d.delete("/Boats [USA]/long"), b"long = one\r\n   two\r\n\ttwo and a half\r\n", b""),
        (lambda d: d.delete("/cars"), b"\r\n\r\n; about cars\r\n[cars]\r\nx=1", b""),
        (lambda d: d.delete("/cars/x"), b"\r\nx=1", b""),
        (lambda d: d.rename_key("/Boats [USA]", "Box [EU]"), b"[Boats [USA]]", b"[Box [EU]]"),
        (lambda d: d.rename_key("/Boats [USA]/path", "way"), b"path:", b"way:"),
    ],
)
def test_an_edit_changes_its_lines_only(
    wish: Callable[[IniDocument], list], before: bytes, after: bytes
) -> None:
    """Comments above go with what they are about; spacing and endings are the neighbours'."""
    assert ODD.count(before) == 1
    assert apply_edits(ODD, wish(open_ini(ODD))) == ODD.replace(before, after)


def test_deleting_a_section_takes_its_comment_and_leaves_the_next_one_its_own() -> None:
    """The comment above a header is about that section."""
    after = apply_edits(ODD, open_ini(ODD).delete("/Boats [USA]"))
    assert after == b"; file\r\n\r\nbefore = 1\r\n\r\n; about cars\r\n[cars]\r\nx=1"


def test_a_section_can_name_an_entry() -> None:
    """Selector `/{entry}` gives section nodes; only the name's own bytes change."""
    node = next(node for node in open_ini(ODD).find(Selector.parse("/{entry}")))
    assert (node.role, node.text, node.line, node.bindings) == (
        "section",
        "Boats [USA]",
        6,
        {"entry": "Boats [USA]"},
    )
    edit = open_ini(ODD).replace_part(node, 0, 5, "Fast é")
    assert edit and apply_edits(ODD, [edit]) == ODD.replace(b"[Boats", "[Fast é".encode())


def test_keys_and_values_are_found_in_order() -> None:
    """`find(None)` yields sections, keys and values as they stand."""
    found = [(node.role, node.text) for node in open_ini(b"a=1\n[s]\nb\n").find(None)]
    assert found == [("key", "a"), ("value", "1"), ("section", "s"), ("key", "b")]


def test_a_continued_value_is_replaced_within_one_line() -> None:
    """Across lines it is left alone."""
    document = open_ini(ODD)
    node = next(node for node in document.find(Selector.parse("/{s}/long")) if node.role == "value")
    assert node.text == "one\ntwo\ntwo and a half"
    edit = document.replace_part(node, 4, 7, "2")
    assert edit and apply_edits(ODD, [edit]) == ODD.replace(b"   two\r", b"   2\r")
    assert document.replace_part(node, 0, 7, "x") is None
    with pytest.raises(ManifestError):
        document.replace_part(node, 4, 7, "#")


@given(st.text("[]ab =;#'\"é:", min_size=1, max_size=6), st.text("[]ab =;#'\"é:", max_size=6))
def test_new_sections_and_values_read_back_with_configparser(name: str, value: str) -> None:
    """Whatever is accepted reads back as it was meant; the rest is refused."""
    raw = b"[s]\nk = 1\n"
    try:
        after = apply_edits(raw, open_ini(raw).insert(f"/{name}", {"n": value}))
    except ManifestError:
        return
    theirs = read_by_configparser(after)
    assert open_ini(after).get("") == {"s": {"k": "1"}, name: {"n": value}}
    if name != "]":  # the test's own name for "no section"
        assert unquoted(theirs[name].pop("n")) == value and not theirs[name]


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [(b"[a\nb=1\n", 1, 1), (b"[a]\n = x\n", 2, 2), (b"[a]\nbare\n  more\n", 3, 3), (b"[a] rest\n", 1, 1)],
)
def test_errors_have_line_and_column(raw: bytes, line: int, column: int) -> None:
    """With the line's own text."""
    with pytest.raises(ManifestError) as caught:
        open_ini(raw, "data:x.ini")
    error = caught.value
    assert (error.path, error.line, error.column) == ("data:x.ini", line, column)
    assert error.text == raw.decode().splitlines()[line - 1]


def test_what_configparser_reads_in_another_way_is_not_edited() -> None:
    """A control character that it takes for a blank, say: ours keeps it, so the edit is refused."""
    raw = b"[s]\nk = 1\x1f\n"
    assert open_ini(raw).get("/s/k") == "1\x1f"
    with pytest.raises(ManifestError, match="configparser"):
        open_ini(raw).set("/s/k", "2")


@pytest.mark.parametrize(
    ("wish", "problem"),
    [
        (lambda d: d.set("/a", "x"), "keys one by one"),
        (lambda d: d.set("/a/k", "x"), "lines 2 and 3"),
        (lambda d: d.rename_key("/a", "z"), "lines 1 and 4"),
        (lambda d: d.rename_key("/b", "a"), "already"),
        (lambda d: d.insert("/b", {}), "already"),
        (lambda d: d.insert("/c", "x"), "mapping"),
        (lambda d: d.insert("/nowhere/k", "x"), "no section"),
        (lambda d: d.insert("/b/[k", "x"), "read as something else"),
        (lambda d: d.rename_key("/b/m", "x:y"), "read as something else"),
        (lambda d: d.get("/nowhere"), "nothing at"),
        (lambda d: d.line_of("/nowhere"), "no section"),
    ],
)
def test_what_cannot_be_done_is_said(wish: Callable[[IniDocument], object], problem: str) -> None:
    """Sections and keys that stand twice are named with their lines."""
    with pytest.raises(ManifestError, match=problem):
        wish(open_ini(b"[a]\nk=1\nk=2\n[a]\n[b]\nm=1\n"))


def test_long_runs_of_blanks_cost_nothing() -> None:
    """configparser's patterns would take the square of their length: the edit is refused instead."""
    raw = b"[a]\nk" + b" " * 300_000 + b"x\n"
    assert len(list(open_ini(raw).find(None))) == 2
    with pytest.raises(ManifestError, match="blanks"):
        open_ini(raw).set(f"/a/k{' ' * 300_000}x", "1")


@pytest.mark.parametrize("raw", [
    b"[a]\nx=1\n", b"[a]\nx=1", b"[a]\nx=1\n\n[b]\ny=2\n", b"[a]\nx=1\n\n[b]\ny=2\n\n", b"[a]\n[b]\ny=2",
    b"[a]\r\nx=1\r\n\r\n[b]\r\ny=2", b"; file\n\n[a]\nx=1\n", b"[a]\nx=1\n\n\n", b"",
])  # fmt: skip
def test_a_section_that_comes_and_goes_leaves_nothing(raw: bytes) -> None:
    """A section put in at the end and taken out again leaves every byte as it was, blank lines too."""
    added = apply_edits(raw, open_ini(raw).insert("/new", {"k": "v", "l": "w"}))
    assert read_by_configparser(added)["new"] == {"k": "v", "l": "w"}
    assert apply_edits(added, open_ini(added).delete("/new")) == raw


TWICE = b"[a]\nx=1\n[b]\ny=2\n[a]\nx=3\nz=4\n"


@pytest.mark.parametrize(
    ("act", "said"),
    [
        (lambda one: one.set("/a/x", "5"), "lines 1 and 5), with 'x' on lines 2 and 6"),
        (lambda one: one.delete("/a/x"), "join the sections by hand"),
        (lambda one: one.delete("/a"), "lines 1 and 5). The file was left as it is; put the keys of both"),
        (lambda one: one.rename_key("/a", "c"), "under one header by hand"),
    ],
)
def test_a_section_given_twice_is_refused_with_both_lines(act, said):
    """Section, lines and what to do; a key that stands in one of the two can be edited."""
    document = open_ini(TWICE, "data:two.ini")
    with pytest.raises(ManifestError) as refused:
        act(document)
    assert said in refused.value.message and refused.value.line == 5
    assert apply_edits(TWICE, document.set("/a/z", "5")) == TWICE.replace(b"z=4", b"z=5")

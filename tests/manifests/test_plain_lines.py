"""The quick way through INI and key=value files says what the whole reading and configparser say."""

from __future__ import annotations

import time
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.manifests.byte_lines import find_lines, split_lines
from workbench.manifests.ini_document import IniDocument, open_ini
from workbench.manifests.key_lines import read_key_lines
from workbench.manifests.keyed_document import KeyedDocument
from workbench.manifests.keyvalue_document import open_keyvalue
from workbench.manifests.lines_document import open_lines
from workbench.manifests.plain_lines import open_plain
from workbench.manifests.selector import Selector

PIECES = [
    *("a", "boats", "Boats 2", "=", ":", " ", "\t", "\n", "\r\n", "\n", "#", ";", "[", "]", "[boats]\n"),
    *('"', "'", "//", "é", "\x0b", "\x85", "\r", "\ufeff", "k = boats\n", "  k: a\n", "\\", "%", "\x00"),
]
FILES = st.lists(st.sampled_from(PIECES), max_size=24).map(lambda pieces: "".join(pieces).encode())
SELECTORS = [
    None,
    *map(Selector.parse, ("/{entry}", "/{s}/k", "/{s}/{entry}", "/boats/{entry}", "//{e}", "/k")),
]
PLAIN = b"; kept\r\n[row 1]\r\nopens = shelf/boats\n  turns=1\nalone\n\n[ Row]  ; x\nmood: 'quiet'"


def without_shortcut(opener: Callable[[bytes], KeyedDocument], raw: bytes) -> KeyedDocument:
    """The document as it is read where lines do not stand alone."""
    document = opener(raw)
    document._plain = None
    return document


@pytest.mark.parametrize(
    ("raw", "is_ini", "plain"),
    [
        (PLAIN, True, True),
        (b"\xef\xbb\xbfa=1\n", True, True),
        (b"a = 1\n  more\n", True, False),
        (b"[a] b]\n", True, False),
        (b"[a] ; b]\n", True, False),
        (b"[a\n", True, False),
        (b"= 1\n", True, False),
        (b"a=1\rb=2\n", True, False),
        (b"a =" + b" \t" * 100 + b"1\n", True, False),
        (b"# x\nA=1\n B = \"two\" # y\n\n", False, True),
        (b"A=\"open\n", False, False),
        (b"A\n", False, False),
    ],
)  # fmt: skip
def test_what_counts_as_plain(raw: bytes, is_ini: bool, plain: bool) -> None:
    """Lines that stand alone; whatever could go on, or is broken, is left to the whole reading."""
    assert (open_plain(raw, is_ini=is_ini) is not None) == plain


@given(FILES)
def test_a_plain_ini_file_passes_configparser(raw: bytes) -> None:
    """Where no judge is asked, the judge would have said yes."""
    if open_plain(raw, is_ini=True) is not None:
        document = without_shortcut(open_ini, raw)
        assert isinstance(document, IniDocument)
        document.check_editable()


@given(FILES, st.sampled_from([open_ini, open_keyvalue]), st.sampled_from(["boats", "k", ""]))
def test_what_is_found_in_single_lines(
    raw: bytes, opener: Callable[[bytes], KeyedDocument], wanted: str
) -> None:
    """The same nodes in the same order, and the same members by pointer."""
    if open_plain(raw, is_ini=opener is open_ini) is None:
        return
    quick, whole = opener(raw), without_shortcut(opener, raw)
    for at in SELECTORS:
        expected = [node for node in whole.find(at) if wanted in node.text]
        assert list(quick.find_matching(at, lambda text: wanted in text)) == expected
    for node in whole.find(None):
        if node.role == "value":
            assert quick.get(node.pointer) == whole.get(node.pointer)
            assert quick.line_of(node.pointer) == whole.line_of(node.pointer)


@given(FILES, st.sampled_from(["boats", "k", ""]))
def test_what_is_found_in_a_list(raw: bytes, wanted: str) -> None:
    """A list of lines: the same nodes, and the same texts by pointer."""
    if b"\0" in raw:
        return
    document = open_lines(raw)
    for at in (None, Selector.parse("/#line"), Selector.parse("/{row}"), Selector.parse("/1")):
        expected = [node for node in document.find(at) if wanted in node.text]
        assert list(open_lines(raw).find_matching(at, lambda text: wanted in text)) == expected
    for index, text in enumerate(document.get("")):
        assert open_lines(raw).get(f"/{index}") == text


@given(FILES)
def test_a_plain_file_reads_without_an_error(raw: bytes) -> None:
    """What the one pattern takes for well formed, the reader takes too."""
    for is_ini in (True, False):
        if open_plain(raw, is_ini=is_ini) is not None:
            read_key_lines(raw, "", is_ini=is_ini)


@given(
    st.binary(max_size=40)
    | st.lists(st.sampled_from([b"x", b"yy", b"\r", b"\n"]), max_size=700).map(b"".join)
)
def test_lines_are_found_as_they_are_split(raw: bytes) -> None:
    """Whatever stretch they lie in."""
    wanted = [line for line in split_lines(raw) if b"y" in raw[line.start : line.end]]
    start = 3 if raw.startswith(b"\xef\xbb\xbf") else 0
    assert list(find_lines(raw, start, lambda text: "y" in text)) == wanted


@pytest.mark.parametrize(
    "unit", [b"[boats\n", b"boats ", b"[boats] [boats]", b"boats=1\n", b"[boats]\nk=boats\n", b" "]
)
def test_hostile_files_take_a_time_that_grows_with_their_size(unit: bytes) -> None:
    """A quarter of a megabyte of one thing is judged and searched within seconds."""
    raw = unit * (256 * 1024 // len(unit))
    start = time.process_time()
    plain = open_plain(raw, is_ini=True)
    if plain is not None:
        assert sum(1 for _ in plain.find(lambda text: "boats" in text)) >= 0
        plain.members_at(("", "boats"))
    assert time.process_time() - start < 20

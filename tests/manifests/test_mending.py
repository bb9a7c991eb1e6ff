"""Plain mends are proposed, minimal and never made; everything else is left to a person."""

import json
import time
import tomllib
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.manifests.document import apply_edits
from workbench.manifests.mending import propose_mend
from workbench.manifests.opening import open_document


def _mended(raw: bytes, format: str) -> str | None:
    mend = propose_mend(raw, format)
    return None if mend is None else apply_edits(raw, mend.edits).decode()


@pytest.mark.parametrize(
    ("broken", "mended"),
    [
        ('{"a": 1\n "b": 2}', '{"a": 1,\n "b": 2}'),
        ('{"a": "x"\n "b": {"c": 2}\n\n "d": []}', '{"a": "x",\n "b": {"c": 2},\n\n "d": []}'),
        ("[1 true]", "[1, true]"),
        ("[1,,2]", "[1,2]"),
        ("[,1]", "[1]"),
        ('{"a": [1,],\n}', '{"a": [1]\n}'),
        ('{"a": 1 "b": [2,]}', '{"a": 1, "b": [2]}'),
        ('{"a" 1}', '{"a": 1}'),
        ("{“a”: “b”,\n “c”: 1}", '{"a": "b",\n "c": 1}'),
        ("{'a': \"it's\", \"b\": ['c', '']}", '{"a": "it\'s", "b": ["c", ""]}'),
        ('{"é": “b”, "c": "“quoted”"}', '{"é": "b", "c": "“quoted”"}'),
        ('{"a": "x,\n "b": 1}', '{"a": "x",\n "b": 1}'),
        ('{"a": "x\n}', '{"a": "x"\n}'),
        ('{"a": "x}', '{"a": "x"}'),
        ('{"a": ["x]}', '{"a": ["x"]}'),
        ('{"a: 1,\n "b": 2}', '{"a": 1,\n "b": 2}'),
        ('{"a": x",\n "b": 2}', '{"a": "x",\n "b": 2}'),
        ('{"a": "x\n "b": 1}', '{"a": "x",\n "b": 1}'),
        ('["a\tb"]', '["a\\tb"]'),
    ],
)
@pytest.mark.parametrize("head", ["", "\ufeff"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_json_is_mended(broken: str, mended: str, head: str, newline: str) -> None:
    """Commas, quotes and colons are mended where one plain repair does; Python's json reads the result."""
    broken, mended = broken.replace("\n", newline), mended.replace("\n", newline)
    assert _mended((head + broken).encode(), "json") == head + mended
    json.loads(mended)
    with pytest.raises(json.JSONDecodeError):
        json.loads(broken)


def test_comments_are_stepped_over() -> None:
    """A missing comma goes behind the value, not into the comment after it."""
    assert (
        _mended(b'{"a": 1 // one\n, "b": 2 // two\n "c": 3}', "json")
        == '{"a": 1 // one\n, "b": 2, // two\n "c": 3}'
    )


@pytest.mark.parametrize(
    ("raw", "format"),
    [
        (b'{"a": 1}', "json"),
        (b'{"a": 1, // a dialect with comments\n}', "json"),
        (b'{"a": {', "json"),
        (b"{a: 1}", "json"),
        (b"", "json"),
        (b"[1] [2]", "json"),
        ('{"a”: “he said “hi” ü”}'.encode(), "json"),
        (b'{"a": 1, "a": 2}', "json"),
        (b"[" * 100_000, "json"),
        (b'["\xe9" 1]', "json"),
        (b"a =\n", "toml"),
        (b"a = 1\na = 2\n", "toml"),
        (b"a = 1\r\n", "toml"),
        (b"if true\n", "shell"),
        ("a=“x”\n".encode(), "shell"),
        (b"<a>&nope;</a>", "xml"),
        (b"<a><b></a>", "xml"),
        (b"<a/>", "xml"),
        (b"[a]\r\nx=1\r\n", "ini"),
        (b"a\n", "lines"),
    ],
)
def test_what_is_not_plain_is_left(raw: bytes, format: str) -> None:
    """Nothing is proposed for what is whole, and nothing where a person has to decide."""
    assert propose_mend(raw, format) is None


@pytest.mark.parametrize(
    ("broken", "mended"),
    [
        ("\ufeffa = 1\n", "a = 1\n"),
        ("a = “x”\nb = “y”\n", 'a = "x"\nb = "y"\n'),
        ('a = "x\nb = 1\n', 'a = "x"\nb = 1\n'),
        ("a = 'x\r\nb = 1\r\n", "a = 'x'\r\nb = 1\r\n"),
        ('a = ["x]\n', 'a = ["x"]\n'),
        ("a = {b = 1,}\n", "a = {b = 1}\n"),
        ("[t\na = 1\n", "[t]\na = 1\n"),
        ("[[t\na = 1\n", "[[t]]\na = 1\n"),
    ],
)
def test_toml_is_mended(broken: str, mended: str) -> None:
    """A BOM, quotes and brackets of TOML are mended; tomllib reads the result."""
    assert _mended(broken.encode(), "toml") == mended
    tomllib.loads(mended)


@pytest.mark.parametrize(
    ("broken", "mended"),
    [
        ("<a>x & y</a>", "<a>x &amp; y</a>"),
        ("<a b='x & y'>R & D &amp; z\n&\n</a>", "<a b='x &amp; y'>R &amp; D &amp; z\n&amp;\n</a>"),
        ("<a b=“x” c=”y”/>", '<a b="x" c="y"/>'),
        ("\n<?xml version='1.0'?>\n<a/>", "<?xml version='1.0'?>\n<a/>"),
    ],
)
def test_xml_is_mended(broken: str, mended: str) -> None:
    """A bare ampersand and curly quotes of XML are mended; xml.etree reads the result."""
    assert _mended(broken.encode(), "xml") == mended
    ElementTree.fromstring(mended)


@pytest.mark.parametrize(
    ("broken", "mended", "format"),
    [
        (
            "\ufeff#!/bin/sh\r\nif true; then\r\n echo\r\nfi\r\n",
            "#!/bin/sh\nif true; then\n echo\nfi\n",
            "shell",
        ),
        ("#!/bin/sh\necho 'x\n", "#!/bin/sh\necho 'x'\n", "shell"),
        ("[a\nx=1\n", "[a]\nx=1\n", "ini"),
        ('a="x\n', 'a="x"\n', "keyvalue"),
    ],
)
def test_other_formats_are_mended(broken: str, mended: str, format: str) -> None:
    """A script gets LF and loses its BOM; lines get the quote or bracket that they lack."""
    assert _mended(broken.encode(), format) == mended


def test_a_mend_says_what_and_where() -> None:
    """The sentence names the repair and how often, the line is that of the first."""
    mend = propose_mend(b'{\n"a": 1\n"b": 2\n"c": 3}', "json")
    assert mend is not None
    assert (mend.reason, mend.line) == ("A missing comma is put in (2 times).", 2)


@given(
    st.recursive(
        st.booleans() | st.integers(0, 99) | st.text("abé ", max_size=3),
        lambda inner: (
            st.lists(inner, max_size=4) | st.dictionaries(st.text("xyz", max_size=3), inner, max_size=4)
        ),
        max_leaves=8,
    ),
    st.data(),
)
def test_a_lost_character_is_never_mended_wrongly(value: object, data: st.DataObject) -> None:
    """Whatever one lost character did, a mend opens well formed; a lost comma gives the data back."""
    text = json.dumps(value, indent=1)
    index = data.draw(st.integers(0, len(text) - 1))
    broken = text[:index] + text[index + 1 :]
    mended = _mended(broken.encode(), "json")
    if mended is not None:
        open_document(mended.encode(), "json")
        assert propose_mend(mended.encode(), "json") is None
    if text[index] == "," and text[index + 1 : index + 2] == "\n":
        assert mended is not None and json.loads(mended) == value


def test_time_is_bounded() -> None:
    """A file full of faults is given up on, not mended for minutes."""
    started = time.process_time()
    assert propose_mend(b"[" + b"1 " * 100_000 + b"]", "json") is None
    assert propose_mend(b"<a>" + b"& \n" * 50_000, "xml") is None
    assert time.process_time() - started < 10

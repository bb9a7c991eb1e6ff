"""What is JSON and what is not, with the place of the fault."""

import json
import time

import pytest

from workbench.errors import ManifestError
from workbench.manifests.json_document import open_json


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [
        (b'{"a": 1\n "b": 2}', 2, 2),
        (b'{"a": 1,,}', 1, 9),
        (b"[1, 2\n", 2, 1),
        (b"[01]", 1, 3),
        (b'{"a" 1}', 1, 6),
        (b"{a: 1}", 1, 2),
        (b'{"a": "x\n"}', 1, 9),
        (b'["\\q"]', 1, 3),
        (b'["\\u12"]', 1, 4),
        (b"[1] 2", 1, 5),
        (b"", 1, 1),
        (b"[,]", 1, 2),
        (b"[NaN]", 1, 2),
        (b'["NaN",\n -Infinity]', 2, 2),
        (b'{\r\n"a": 1,\r\n"b" 2}', 3, 5),
        ('{"é": "ü",\n "ö" 1}'.encode(), 2, 6),
        (b"\xef\xbb\xbf[1 2]", 1, 4),
        (b'["caf\xe9"]', 1, 6),
        (b"[1, /* never closed", 1, 5),
        (b"[1 2] // why", 1, 4),
        (b"['a']", 1, 2),
    ],
)
def test_fault_has_line_and_column(raw: bytes, line: int, column: int) -> None:
    """A fault is named by line and by column in characters (RFC 8259, sections 2 to 8)."""
    with pytest.raises(ManifestError) as caught:
        open_json(raw, "house/register.json")
    error = caught.value
    assert (error.line, error.column) == (line, column)
    assert "house/register.json" in error.message and f"line {line}" in error.message
    assert error.text is not None and "\n" not in error.text


@pytest.mark.parametrize("raw", [b"[1 2]", b"{", b'{"a":1,"b"}', b'["a\tb"]', b"[1,2", b'"', b'{"a":"\\x"}'])
def test_fault_stands_where_the_library_says(raw: bytes) -> None:
    """Line and column agree with those of Python's json, which is the judge."""
    with pytest.raises(json.JSONDecodeError) as theirs:
        json.loads(raw)
    with pytest.raises(ManifestError) as ours:
        open_json(raw)
    assert (ours.value.line, ours.value.column) == (theirs.value.lineno, theirs.value.colno)


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-be", "utf-16-le"])
def test_other_encodings_are_refused(encoding: str) -> None:
    """UTF-16 is not edited; the message says what to do."""
    with pytest.raises(ManifestError):
        open_json('{"a": "b"}'.encode(encoding))


@pytest.mark.parametrize(
    "raw", [b"[" * 100_000, b"[" * 100_000 + b"]" * 100_000, b'{"a":' * 100_000, b"[{" * 700]
)
def test_deep_nesting_is_refused_fast(raw: bytes) -> None:
    """Nesting is bounded: 100,000 levels give an error in words, at once."""
    started = time.process_time()
    with pytest.raises(ManifestError, match="nested deeper than 512"):
        open_json(raw)
    assert time.process_time() - started < 2


def test_brackets_in_strings_are_no_nesting() -> None:
    """Only real brackets count as depth, and 512 levels are allowed."""
    assert open_json(json.dumps(["[" * 2000]).encode()).get("/0") == "[" * 2000
    assert open_json(b"[" * 512 + b"]" * 512).get("/0" * 511) == []


@pytest.mark.parametrize(
    "raw", [b'"\\"' * 500_000, b"/*/" * 500_000, b"[" + b'"' * 999_999, b"," * 1_000_000]
)
def test_hostile_text_takes_linear_time(raw: bytes) -> None:
    """A malformed file made to confuse the search for comments is refused at once."""
    started = time.process_time()
    with pytest.raises(ManifestError):
        open_json(raw)
    assert time.process_time() - started < 3


def test_enormous_number_is_refused() -> None:
    """Python refuses numbers of over 4,300 digits; that is said in words."""
    with pytest.raises(ManifestError, match="thousands of digits"):
        open_json(b"[" + b"1" * 5000 + b"]")


def test_comments_and_trailing_commas_are_read() -> None:
    """Comments and trailing commas that a file has are tolerated; the data is what it is without them."""
    raw = b'// top\n{\n  "a": [1, 2,], /* mid, */ "b": "x // y, ]", // end\n}\n'
    assert open_json(raw).get("") == {"a": [1, 2], "b": "x // y, ]"}


@pytest.mark.parametrize("raw", [b"[1,,]", b"{,}", b"[,1]", b'{"a":,}', b"[1,/**/,]"])
def test_only_one_trailing_comma_is_tolerated(raw: bytes) -> None:
    """A comma with no value before it is a fault, not a habit."""
    with pytest.raises(ManifestError):
        open_json(raw)

"""Key=value files, checked against a model of their lines; the format has no standard (common practice)."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.keyvalue_document import KeyvalueDocument, open_keyvalue
from workbench.manifests.selector import Selector

ODD = b"""\xef\xbb\xbf# a file\r
\r
NAME=value\r
  spaced name  =  it's here  \r
; other\r
quoted = "a  b"   # why\r
single='#x'\r
empty=\r
half = "a" and "b"\r
path = C:/x=y"""


def test_odd_formatting_is_read() -> None:
    """Quotes count only around the whole value, `=` only once, and blanks around it never."""
    assert open_keyvalue(ODD).get("") == {
        "NAME": "value",
        "spaced name": "it's here",
        "quoted": "a  b",
        "single": "#x",
        "empty": "",
        "half": '"a" and "b"',
        "path": "C:/x=y",
    }


@pytest.mark.parametrize(
    ("wish", "before", "after"),
    [
        (lambda d: d.set("/NAME", "x y"), b"NAME=value\r", b"NAME=x y\r"),
        (lambda d: d.set("/quoted", "c"), b'"a  b"   # why', b'"c"   # why'),
        (lambda d: d.set("/quoted", 'c"d'), b'"a  b"', b"'c\"d'"),
        (lambda d: d.set("/NAME", " x"), b"NAME=value", b'NAME=" x"'),
        (lambda d: d.set("/empty", 5), b"empty=\r", b"empty=5\r"),
        (lambda d: d.set("/path", ""), b"path = C:/x=y", b"path = "),
        (lambda d: d.delete("/quoted"), b'; other\r\nquoted = "a  b"   # why\r\n', b""),
        (lambda d: d.delete("/path"), b"\r\npath = C:/x=y", b""),
        (lambda d: d.insert("/new", "v"), b"C:/x=y", b"C:/x=y\r\nnew = v"),
        (lambda d: d.rename_key("/spaced name", "other"), b"spaced name", b"other"),
    ],
)
def test_an_edit_changes_its_line_only(
    wish: Callable[[KeyvalueDocument], list], before: bytes, after: bytes
) -> None:
    """BOM, endings, spacing, quotes, comments and the missing last line ending stay."""
    assert ODD.count(before) == 1
    assert apply_edits(ODD, wish(open_keyvalue(ODD))) == ODD.replace(before, after)


@given(
    pairs=st.lists(
        st.tuples(st.text("ab_é", min_size=1, max_size=4), st.text("xy \"'#;=[é", max_size=6)),
        unique_by=lambda p: p[0],
    ),
    ending=st.sampled_from(["\n", "\r\n"]),
    separator=st.sampled_from(["=", " = ", "  =\t"]),
    value=st.text("xy \"'#;=[é", max_size=6),
)
def test_edits_agree_with_a_mapping(
    pairs: list[tuple[str, str]], ending: str, separator: str, value: str
) -> None:
    """Built up by insert, taken down by delete: read back it is the same mapping each time."""
    raw, model = b"", {}
    for key, text in [*pairs, ("zz", value)]:
        if not raw and pairs:
            raw = f"first{separator}1{ending}".encode()
            model["first"] = "1"
        document = open_keyvalue(raw)
        try:
            raw = apply_edits(raw, document.insert(f"/{key}", text))
        except ManifestError:
            assert "'" in text and '"' in text  # no quotes are left to hold it
            continue
        model[key] = text
        assert open_keyvalue(raw).get("") == model
    for key in list(model):
        raw = apply_edits(raw, open_keyvalue(raw).delete(f"/{key}"))
        del model[key]
        assert open_keyvalue(raw).get("") == model


def test_a_key_that_stands_twice_is_read_but_not_set() -> None:
    """Each place can be replaced (a list may repeat its key), but a pointer does not say which is meant."""
    raw = b"last = a/Boats\nlast = Boats\n"
    document = open_keyvalue(raw, "data:lists")
    assert document.get("/last") == "Boats"
    for wish in (document.set, document.rename_key):
        with pytest.raises(ManifestError, match="lines 1 and 2"):
            wish("/last", "x")
    nodes = [node for node in document.find(Selector.parse("/last")) if node.role == "value"]
    edits = [document.replace_part(node, node.text.index("Boats"), len(node.text), "New") for node in nodes]
    assert apply_edits(raw, [edit for edit in edits if edit]) == b"last = a/New\nlast = New\n"


def test_an_exported_name_is_the_name() -> None:
    """`export A=1` assigns A; a name that is `export` itself stays one; a new line follows its neighbour."""
    document = open_keyvalue(b"export A='x'\n export  B=y\nexport = z\n")
    assert document.get("") == {"A": "x", "B": "y", "export": "z"}
    assert (document.get("/A"), document.line_of("/B")) == ("x", 2)
    assert apply_edits(document.raw, document.set("/B", "n")).splitlines()[1] == b" export  B=n"
    exported = open_keyvalue(b"export A=1\n")
    assert apply_edits(exported.raw, exported.insert("/C", "2")) == b"export A=1\nexport C=2\n"
    assert apply_edits(exported.raw, exported.rename_key("/A", "D")) == b"export D=1\n"


def test_keys_can_name_entries() -> None:
    """A key node is replaced as a whole or in part; what would read as something else is refused."""
    raw = b"Boats.x = 1\n"
    document = open_keyvalue(raw)
    key = next(node for node in document.find(Selector.parse("/{entry}.x")) if node.role == "key")
    assert key.bindings == {"entry": "Boats"}
    edit = document.replace_part(key, 0, 5, "Fast Boats")
    assert edit is not None and apply_edits(raw, [edit]) == b"Fast Boats.x = 1\n"
    for bad in ("a=b", "#c", " d", ""):
        with pytest.raises(ManifestError):
            document.replace_part(key, 0, len(key.text), bad)


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [
        (b"a=1\nnonsense\n", 2, 1),
        ("é=1\r\n  = x\r\n".encode(), 2, 3),
        ('naïve = "é\n'.encode(), 1, 9),
        (b"a\0=1", 1, 2),
        (b"[section]\na=1\n", 1, 1),
    ],
)
def test_errors_have_line_and_column(raw: bytes, line: int, column: int) -> None:
    """In characters, with the line's own text."""
    with pytest.raises(ManifestError) as caught:
        open_keyvalue(raw, "data:x.conf")
    error = caught.value
    assert (error.path, error.line, error.column) == ("data:x.conf", line, column)
    assert error.text == raw.decode().splitlines()[line - 1]


@pytest.mark.parametrize(
    ("wish", "problem"),
    [
        (lambda d: d.get("/z"), "nothing at"),
        (lambda d: d.insert("/NAME", "x"), "already"),
        (lambda d: d.insert("/a/b", "x"), "no place"),
        (lambda d: d.set("/NAME", None), "nothing"),
        (lambda d: d.set("/NAME", ["x"]), "a text"),
        (lambda d: d.set("/NAME", "a\nb"), "control"),
        (lambda d: d.set("/NAME", "'\"' "), "read as something else"),
        (lambda d: d.rename_key("/NAME", "empty"), "already"),
        (lambda d: d.rename_key("/NAME", "a=b"), "read as something else"),
    ],
)
def test_what_cannot_be_done_is_said(wish: Callable[[KeyvalueDocument], object], problem: str) -> None:
    """Nothing is bent to fit."""
    with pytest.raises(ManifestError, match=problem):
        wish(open_keyvalue(ODD))

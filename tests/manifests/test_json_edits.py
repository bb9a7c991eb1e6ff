"""Set, insert, delete and rename in JSON: the data against a model, the bytes against the neighbours."""

import copy
import json
import random
import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.json_document import open_json
from workbench.manifests.opening import edit_document
from workbench.manifests.selector import join_pointer

SPREAD = """{
  // all that the shelf holds
  "things": {
    // the old one
    "Boats": { "says": "Boats", "n": 1 },
    "Tales": { "says": "Tales", "n": 2 }, // last

    // to come
  },
  "few": [1, 2, 3],
  "none": {},
  "tall": [
    1,
    2
  ]
}
"""


def _edit(raw: str, wish: str, *args: object) -> str:
    document = open_json(raw.encode())
    return edit_document(document, getattr(document, wish)(*args)).decode()


@pytest.mark.parametrize(
    ("wish", "old", "new"),
    [
        (("set", "/things/Boats/n", 5), '"n": 1', '"n": 5'),
        (("set", "/things/Boats", {"says": "Ships", "n": 1}), '"says": "Boats"', '"says": "Ships"'),
        (("set", "/few/1", "two"), "[1, 2, 3]", '[1, "two", 3]'),
        (("set", "/few", [1]), "[1, 2, 3]", "[1]"),
        (("set", "/tall", [7]), "[\n    1,\n    2\n  ]", "[\n    7\n  ]"),
        (
            ("insert", "/things/Zoo", {"says": "Zoo"}),
            '"n": 2 }, // last\n',
            '"n": 2 }, // last\n    "Zoo": { "says": "Zoo" },\n',
        ),
        (("insert", "/few/-", 4), "3]", "3, 4]"),
        (("insert", "/few/0", 0), "[1", "[0, 1"),
        (("insert", "/tall/-", 3), "    2\n", "    2,\n    3\n"),
        (("insert", "/tall/1", 9), "    1,\n", "    1,\n    9,\n"),
        (("insert", "/none/a", 1), '"none": {}', '"none": {\n    "a": 1\n  }'),
        (("insert", "/more", True), "    2\n  ]\n", '    2\n  ],\n  "more": true\n'),
        (
            ("delete", "/things/Boats"),
            '    // the old one\n    "Boats": { "says": "Boats", "n": 1 },\n',
            "",
        ),
        (("delete", "/things/Tales"), '    "Tales": { "says": "Tales", "n": 2 }, // last\n', ""),
        (("delete", "/things/Boats/says"), '"says": "Boats", "n": 1', '"n": 1'),
        (("delete", "/things/Boats/n"), ', "n": 1', ""),
        (("delete", "/few/1"), ", 2", ""),
        (("delete", "/few/0"), "[1, ", "["),
        (("delete", "/tall/1"), "1,\n    2\n", "1\n"),
        (("delete", "/tall"), ',\n  "tall": [\n    1,\n    2\n  ]', ""),
        (("rename_key", "/things/Boats", 'Bo"ats'), '"Boats": {', '"Bo\\"ats": {'),
    ],
)
def test_edit_in_style(wish: tuple[str, object], old: str, new: str) -> None:
    """An edit looks as its neighbours do and takes its own comments along; nothing else changes."""
    assert SPREAD.count(old) == 1
    assert _edit(SPREAD, *wish) == SPREAD.replace(old, new)
    assert _edit(SPREAD.replace("\n", "\r\n"), *wish) == SPREAD.replace(old, new).replace("\n", "\r\n")


@pytest.mark.parametrize(
    ("raw", "wish", "edited"),
    [
        ("{}", ("insert", "/a", 1), '{\n  "a": 1\n}'),
        ("[]", ("insert", "/-", []), "[\n  []\n]"),
        ('{"a":[]}', ("insert", "/a/0", 1), '{"a":[1]}'),
        ('{"a":{"x":1},"b":{}}', ("insert", "/b/y", [1, 2]), '{"a":{"x":1},"b":{"y":[1,2]}}'),
        ('{"a": { "x": 1 }, "b": {}}', ("insert", "/b/y", 2), '{"a": { "x": 1 }, "b": { "y": 2 }}'),
        (
            '{\n\t"a": {}\n}',
            ("insert", "/a/b", {"c": 1}),
            '{\n\t"a": {\n\t\t"b": {\n\t\t\t"c": 1\n\t\t}\n\t}\n}',
        ),
        ("{ // none yet\n}", ("insert", "/a", 1), '{ // none yet\n  "a": 1\n}'),
        ("[ /* none */ ]", ("insert", "/0", 1), "[ /* none */ 1 ]"),
        ('{\n  "a": 1\n}', ("delete", "/a"), "{}"),
        ('{\n  "a": 1\n  // stays\n}', ("delete", "/a"), "{\n  // stays\n}"),
        ("[1, 2,]", ("insert", "/-", 3), "[1, 2, 3,]"),
        ("[1, 2,]", ("delete", "/1"), "[1,]"),
        ("[1, 2,]", ("delete", "/0"), "[2,]"),
        ("[1, // one\n 2]", ("delete", "/1"), "[1 // one\n ]"),
        ("[1, // one\n 2]", ("delete", "/0"), "[2]"),
        ('{ "a": 1\n, "b": 2\n, "c": 3\n}', ("delete", "/b"), '{ "a": 1\n, "c": 3\n}'),
        ('{ "a": 1\n, "b": 2\n, "c": 3\n}', ("delete", "/c"), '{ "a": 1\n, "b": 2\n}'),
        ('{ "a": 1\n, "b": 2\n}', ("insert", "/c", 3), '{ "a": 1\n, "b": 2\n, "c": 3\n}'),
        ("[\n  1 // one\n]", ("insert", "/-", 2), "[\n  1, // one\n  2\n]"),
        ("[\n  1, 2, 3,\n  4, 5\n]", ("insert", "/-", 6), "[\n  1, 2, 3,\n  4, 5, 6\n]"),
        ('{"a": "\\u00e9"}', ("insert", "/ü", "ö"), '{"a": "\\u00e9", "\\u00fc": "\\u00f6"}'),
        ('{"a": "é"}', ("insert", "/ü", "ö"), '{"a": "é", "ü": "ö"}'),
        ("1.50", ("set", "", 1.5), "1.50"),
        ("1", ("set", "", True), "true"),
        ("1", ("set", "", 1.0), "1.0"),
        (" [1]\n", ("set", "", "x"), ' "x"\n'),
    ],
)
def test_edit_of_odd_layouts(raw: str, wish: tuple[str, object], edited: str) -> None:
    """Empty containers, one-liners, comma-first and trailing commas keep their look."""
    assert _edit(raw, *wish) == edited


@pytest.mark.parametrize(
    "wish",
    [
        ("set", "/none/x", 1),
        ("set", "/few/0", float("nan")),
        ("set", "/few/0", float("inf")),
        ("set", "/few/0", b"x"),
        ("set", "/few/0", {1: 2}),
        ("set", "/few/0", "\ud800"),
        ("insert", "/few/4", 1),
        ("insert", "/few/x", 1),
        ("insert", "/few/01", 1),
        ("insert", "/things", 1),
        ("insert", "/few/0/x", 1),
        ("insert", "/nowhere/x", 1),
        ("insert", "", 1),
        ("delete", ""),
        ("delete", "/few/9"),
        ("rename_key", "/few/0", "x"),
        ("rename_key", "/few", "none"),
        ("rename_key", "", "none"),
        ("rename_key", "/nowhere", "x"),
    ],
)
def test_wishes_that_are_refused(wish: tuple[str, object]) -> None:
    """What cannot be done is said in words, and no edit is made."""
    with pytest.raises(ManifestError, match=r"\."):
        _edit(SPREAD, *wish)


VALUES = st.recursive(
    st.none() | st.booleans() | st.integers(-99, 99) | st.text(st.characters(codec="utf-8"), max_size=5),
    lambda inner: (
        st.lists(inner, max_size=4) | st.dictionaries(st.text('ab/~é"\\', max_size=3), inner, max_size=4)
    ),
    max_leaves=12,
)


def _write(value: object, dice: random.Random, extras: bool, newline: str, escaped: bool) -> str:
    """The value as JSON in any odd layout, with comments and trailing commas where asked."""

    def space() -> str:
        choices = ["", "", " ", "\t", newline, newline + "  ", newline * 2]
        comments = [
            f"// it's \"[{newline}",
            "/* , } */",
            f"/* {newline} */",
            f"{newline}    // é {newline}  ",
        ]
        return "".join(dice.choice(choices + comments * extras) for _ in range(dice.choice((0, 1, 1, 2))))

    def put(item: object) -> str:
        if isinstance(item, dict):
            parts = [
                space()
                + json.dumps(key, ensure_ascii=escaped)
                + space()
                + ":"
                + space()
                + put(value)
                + space()
                for key, value in item.items()
            ]
        elif isinstance(item, list):
            parts = [space() + put(value) + space() for value in item]
        else:
            return json.dumps(item, ensure_ascii=escaped)
        tail = "," + space() if parts and extras and dice.random() < 0.3 else ""
        inside = ",".join(parts) + tail if parts else space()
        return f"{{{inside}}}" if isinstance(item, dict) else f"[{inside}]"

    return space() + put(value) + space()


def _places(value: object, tokens: tuple[str, ...] = ()):
    yield tokens, value
    pairs = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    for key, item in pairs:
        yield from _places(item, (*tokens, str(key)))


def _comments(text: str) -> list[str]:
    return [m[1] for m in re.finditer(r'"(?:[^"\\]|\\.)*"|(//[^\r\n]*|/\*(?s:.*?)\*/)', text) if m[1]]


def _model(data: object, wish: str, tokens: tuple[str, ...], new: object) -> object:
    """The same wish on plain data."""
    if not tokens:
        return new
    root = copy.deepcopy(data)
    parent = root
    for token in tokens[:-1]:
        parent = parent[int(token)] if isinstance(parent, list) else parent[token]
    key = tokens[-1] if isinstance(parent, dict) else len(parent) if tokens[-1] == "-" else int(tokens[-1])
    if wish == "delete":
        del parent[key]
    elif wish == "rename_key":
        renamed = {(new if name == key else name): item for name, item in parent.items()}
        parent.clear()
        parent.update(renamed)
    elif wish == "insert" and isinstance(parent, list):
        parent.insert(key, new)
    else:
        parent[key] = new
    return root


def _dump(value: object) -> str:
    """The data as text: equal texts are equal data, `1` and `true` kept apart."""
    return json.dumps(value, sort_keys=True)


def _draw_wish(data: st.DataObject, value: object) -> tuple[str, tuple[str, ...], object]:
    tokens, here = data.draw(st.sampled_from(list(_places(value))))
    new = data.draw(VALUES)
    wishes = ["set"] + ["delete"] * bool(tokens)
    if isinstance(here, dict | list):
        wishes.append("insert")
    if tokens and isinstance(_at(value, tokens[:-1]), dict):
        wishes.append("rename_key")
    wish = data.draw(st.sampled_from(wishes))
    if wish == "insert" and isinstance(here, dict):
        tokens = (
            *tokens,
            data.draw(st.text(max_size=3).filter(lambda key: key not in here and key.isprintable())),
        )
    elif wish == "insert":
        tokens = (*tokens, data.draw(st.sampled_from(["-", *map(str, range(len(here) + 1))])))
    elif wish == "rename_key":
        taken = set(_at(value, tokens[:-1])) - {tokens[-1]}
        new = data.draw(
            st.text(st.characters(codec="utf-8"), max_size=3).filter(lambda key: key not in taken)
        )
    return wish, tokens, new


def _at(value: object, tokens: tuple[str, ...]) -> object:
    for token in tokens:
        value = value[int(token)] if isinstance(value, list) else value[token]
    return value


@given(VALUES, st.data(), st.randoms(use_true_random=False), st.booleans(), st.booleans(), st.booleans())
def test_edits_agree_with_a_model(
    value: object, data: st.DataObject, dice: random.Random, extras: bool, crlf: bool, escaped: bool
) -> None:
    """Any wish on any layout gives what the same wish gives on plain data, and loses no comment set apart."""
    bom = b"\xef\xbb\xbf" if dice.random() < 0.3 else b""
    raw = bom + _write(value, dice, extras, "\r\n" if crlf else "\n", escaped).encode()
    document = open_json(raw)
    assert document.get("") == value
    wish, tokens, new = _draw_wish(data, value)
    args = () if wish == "delete" else (new,)
    edits = getattr(document, wish)(join_pointer(tokens), *args)
    edited = edit_document(document, edits)
    expected = _model(value, wish, tokens, new)
    assert _dump(open_json(edited).get("")) == _dump(expected)
    assert edited.startswith(bom)
    if wish in ("insert", "rename_key"):
        assert _comments(edited.decode("utf-8-sig")) == _comments(raw.decode("utf-8-sig"))
    if not extras:
        assert _dump(json.loads(edited)) == _dump(expected)
    if b"\r\n" in raw:
        assert b"\n" not in edited.replace(b"\r\n", b"")


@given(VALUES, st.data(), st.randoms(use_true_random=False), st.booleans())
def test_other_members_keep_their_bytes(
    value: object, data: st.DataObject, dice: random.Random, extras: bool
) -> None:
    """After an edit every string outside the member is spelled by the same bytes as before."""
    raw = _write(value, dice, extras, "\n", True).encode()
    document = open_json(raw)
    wish, tokens, new = _draw_wish(data, value)
    edited = edit_document(
        document, getattr(document, wish)(join_pointer(tokens), *(() if wish == "delete" else (new,)))
    )
    before, after = (
        [bytes_[n.start : n.end] for n in open_json(bytes_).find(None)] for bytes_ in (raw, edited)
    )
    if wish == "insert":
        before, after = after, before
    if wish in ("insert", "delete"):
        rest = iter(before)
        assert all(spelling in rest for spelling in after)


@given(VALUES, st.randoms(use_true_random=False))
def test_setting_what_is_there_changes_nothing(value: object, dice: random.Random) -> None:
    """A no-op edit gives identical bytes."""
    document = open_json(_write(value, dice, True, "\n", False).encode())
    for tokens, here in _places(value):
        assert list(document.set(join_pointer(tokens), here)) == []


@given(VALUES, st.data(), st.randoms(use_true_random=False))
def test_insert_then_delete_is_no_change_of_data(
    value: object, data: st.DataObject, dice: random.Random
) -> None:
    """What was inserted can be deleted again, and every comment is still there."""
    raw = _write([value], dice, True, "\n", False)
    inserted = _edit(raw, "insert", "/-", data.draw(VALUES))
    deleted = _edit(inserted, "delete", "/1")
    assert open_json(deleted.encode()).get("") == [value]
    assert set(_comments(raw)) == set(_comments(deleted))

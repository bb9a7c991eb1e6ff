"""Reading and replacing in JSON, byte by byte."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.json_document import open_json
from workbench.manifests.opening import edit_document, find_matching
from workbench.manifests.selector import Selector, split_pointer

RFC_6901 = rb"""{
   "foo": ["bar", "baz"],
   "": 0,
   "a/b": 1,
   "c%d": 2,
   "e^f": 3,
   "g|h": 4,
   "i\\j": 5,
   "k\"l": 6,
   " ": 7,
   "m~n": 8
}
"""
"""The document of RFC 6901, section 5."""


@pytest.mark.parametrize(
    ("pointer", "value"),
    [
        ("", json.loads(RFC_6901)),
        ("/foo", ["bar", "baz"]),
        ("/foo/0", "bar"),
        ("/", 0),
        ("/a~1b", 1),
        ("/c%d", 2),
        ("/e^f", 3),
        ("/g|h", 4),
        ("/i\\j", 5),
        ('/k"l', 6),
        ("/ ", 7),
        ("/m~0n", 8),
    ],
)
def test_pointers_of_rfc_6901(pointer: str, value: object) -> None:
    """The examples of RFC 6901, section 5."""
    document = open_json(RFC_6901)
    assert document.get(pointer) == value
    assert document.line_of(pointer) == (
        1 if pointer == "" else 2 + list(document.get("")).index(_key(pointer))
    )


def _key(pointer: str) -> str:
    return pointer.split("/")[1].replace("~1", "/").replace("~0", "~")


@pytest.mark.parametrize(
    "pointer", ["foo", "/foo/-", "/foo/00", "/foo/2", "/foo/٠", "/none", "/foo/0/x", "/~2", "/ /0"]
)
def test_pointers_that_lead_nowhere(pointer: str) -> None:
    """RFC 6901, sections 3 and 4: no leading slash, past the end, a leading zero, a wrong escape."""
    with pytest.raises(ManifestError):
        open_json(RFC_6901).get(pointer)


def test_escaped_tilde_is_undone_last() -> None:
    """`~01` is the key `~1` (RFC 6901, section 4)."""
    assert open_json(b'{"~1": 3, "/": 4}').get("/~01") == 3


MAP = rb"""{ "things": {
  "Boats":   { "says": "Caf\u00e9 \/ Boats", "at": "\/mnt\/store\/shelf\/Boats\/begin" },
  "Boats2":  { "says": "no", "list": ["Boats", "x"] }
}, "last": "Boats" }"""


@pytest.mark.parametrize(
    ("at", "found"),
    [
        ("/things/{entry}", [("key", "/things/Boats", "Boats", 2), ("key", "/things/Boats2", "Boats2", 3)]),
        (
            "/things/{entry}/says",
            [
                ("value", "/things/Boats/says", "Café / Boats", 2),
                ("value", "/things/Boats2/says", "no", 3),
            ],
        ),
        (
            "/things/{key}/list/{row}",
            [("value", "/things/Boats2/list/0", "Boats", 3), ("value", "/things/Boats2/list/1", "x", 3)],
        ),
        ("/last", [("value", "/last", "Boats", 4)]),
        ("/things/{x}/{x}", []),
        ("/things/Boats/at/deeper", []),
        ("", []),
    ],
)
def test_find(at: str, found: list[tuple[str, str, str, int]]) -> None:
    """A selector finds keys and strings in document order, decoded, with line and exact span."""
    document = open_json(MAP)
    nodes = list(document.find(Selector.parse(at)))
    assert [(node.role, node.pointer, node.text, node.line) for node in nodes] == found
    assert all(json.loads(MAP[node.start : node.end]) == node.text for node in nodes)


def test_find_binds() -> None:
    """What a placeholder stood for comes with the node."""
    node = next(open_json(MAP).find(Selector.parse("/things/{entry}/says")))
    assert node.bindings == {"entry": "Boats"}


def test_find_without_selector_yields_every_text() -> None:
    """With no selector every key and every string comes, in order."""
    texts = [node.text for node in open_json(MAP).find(None)]
    assert texts == ["things", "Boats", "says", "Café / Boats", "at", "/mnt/store/shelf/Boats/begin",
                     "Boats2", "says", "no", "list", "Boats", "x", "last", "Boats"]  # fmt: skip


def _replace(raw: bytes, at: str, old: str, new: str) -> bytes:
    document = open_json(raw)
    node = next(node for node in document.find(Selector.parse(at)) if old in node.text)
    start = node.text.index(old)
    edit = document.replace_part(node, start, start + len(old), new)
    assert edit is not None
    return edit_document(document, [edit])


@pytest.mark.parametrize(
    ("raw", "old", "new", "edited"),
    [
        (rb'{"a": "\/x\/Boats\/y"}', "Boats", "Ships", rb'{"a": "\/x\/Ships\/y"}'),
        (rb'{"a": "\u0042oats"}', "Boats", "Ships", rb'{"a": "Ships"}'),
        (
            rb'{"a": "\ud83d\ude00 Boats \u00e9"}',
            "Boats",
            'Bo"ats\\',
            rb'{"a": "\ud83d\ude00 Bo\"ats\\ \u00e9"}',
        ),
        (rb'{"a": "caf\u00e9"}', "caf", "thé", rb'{"a": "th\u00e9\u00e9"}'),
        ('{"a": "café"}'.encode(), "caf", "thé", '{"a": "théé"}'.encode()),
        (b'{"a": "cafe"}', "cafe", "thé 😀", '{"a": "thé 😀"}'.encode()),
        (rb'{"a": "\u001f x"}', "x", "é\t", '{"a": "\\u001f é\\t"}'.encode()),
        (rb'{"a": "\ud800x"}', "x", "y", rb'{"a": "\ud800y"}'),
        (b'\xef\xbb\xbf{"a": "\xc3\xa9x"}\r\n', "x", "/", b'\xef\xbb\xbf{"a": "\xc3\xa9/"}\r\n'),
        ('{"a": "😀\\n😀x"}'.encode(), "x", "y", '{"a": "😀\\n😀y"}'.encode()),
    ],
)
def test_replace_part(raw: bytes, old: str, new: str, edited: bytes) -> None:
    """Only the bytes of those characters change; escapes beside them stay as they are written."""
    assert _replace(raw, "/a", old, new) == edited


@pytest.mark.parametrize("text", ["\ud800", "a\udce9"])
def test_text_that_is_no_unicode_is_refused(text: str) -> None:
    """A file name that is no UTF-8 cannot stand in JSON; nothing is written for it."""
    document = open_json(b'{"a": "b"}')
    node = next(document.find(Selector.parse("/a")))
    with pytest.raises(ManifestError, match="no Unicode"):
        document.replace_part(node, 0, 1, text)


def test_duplicate_keys_are_read_but_not_edited() -> None:
    """Repeated names are unpredictable (RFC 8259, section 4): read, yet every edit says where they are."""
    document = open_json(b'{"a": "1",\n "b": {"x": 1,\n "x": 2}}', "m.json")
    nodes = list(document.find(Selector.parse("/b/{x}")))
    assert [node.line for node in nodes] == [2, 3]
    wishes = [
        lambda: document.set("/a", 2),
        lambda: document.delete("/a"),
        lambda: document.insert("/c", 2),
        lambda: document.rename_key("/a", "c"),
        lambda: document.replace_part(nodes[0], 0, 1, "y"),
    ]
    for wish in wishes:
        with pytest.raises(ManifestError, match=r"'x'.*twice \(first on line 2\)") as caught:
            wish()
        assert caught.value.line == 3


def test_an_edit_that_would_make_a_duplicate_is_refused() -> None:
    """Two keys never become one by an edit."""
    document = open_json(b'{"a": 1, "b": 2}')
    key = next(document.find(Selector.parse("/{name}")))
    edit = document.replace_part(key, 0, 1, "b")
    assert edit is not None
    with pytest.raises(ManifestError, match="twice"):
        edit_document(document, [edit])


@given(st.text(), st.text(), st.text(), st.booleans(), st.data())
def test_replaced_part_reads_back(
    before: str, old: str, after: str, escaped: bool, data: st.DataObject
) -> None:
    """Whatever stands around, the new text is read back by Python's json, and nothing else changes."""
    raw = json.dumps({"k": before + old + after, "é": 1}, ensure_ascii=escaped).encode(
        "utf-8", "surrogatepass"
    )
    new = data.draw(st.text(st.characters(codec="utf-8")))
    document = open_json(raw)
    node = next(document.find(Selector.parse("/k")))
    edit = document.replace_part(node, len(before), len(before + old), new)
    assert edit is not None
    edited = edit_document(document, [edit])
    assert json.loads(edited)["k"] == before + new + after
    assert edited[: edit.start] == raw[: edit.start]
    assert edited[edit.start + len(edit.new) :] == raw[edit.end :]


@given(st.recursive(st.none() | st.booleans() | st.integers() | st.text() | st.floats(-9, 9),
                    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner)))  # fmt: skip
def test_every_string_is_found(value: object) -> None:
    """With no selector, the texts are exactly the strings that the token stream of the document holds."""
    raw = json.dumps(value, indent=1).encode()
    document = open_json(raw)
    spans = [(node.start, node.end) for node in document.find(None)]
    assert spans == sorted(spans)
    strings = [json.loads(raw[start:end]) for start, end in spans]
    assert strings == [node.text for node in document.find(None)] == list(_strings(value))
    for node in document.find(None):
        wanted = node.pointer.rpartition("/")[2].replace("~1", "/").replace("~0", "~")
        assert node.text == (wanted if node.role == "key" else document.get(node.pointer))


def _strings(value: object):
    if isinstance(value, str):
        yield value
    for item in value if isinstance(value, list) else ():
        yield from _strings(item)
    for key, item in value.items() if isinstance(value, dict) else ():
        yield key
        yield from _strings(item)


@given(
    st.recursive(
        st.integers() | st.sampled_from(["a", "b", "ab", "é"]),
        lambda inner: (
            st.lists(inner, max_size=4) | st.dictionaries(st.sampled_from("ab01"), inner, max_size=4)
        ),
        max_leaves=20,
    ),
    st.lists(st.sampled_from(["a", "b", "0", "1", "{x}", "{y}", "a{x}"]), max_size=4).map(
        lambda t: "".join(f"/{x}" for x in t)
    ),
    st.sampled_from(["a", "b", "x"]),
    st.booleans(),
)
def test_matching_only_is_found_the_same(value: object, at: str, needle: str, twice: bool) -> None:
    """Asked only for texts that could match, find passes over the rest and yields just the same nodes."""
    raw = json.dumps(value)
    document = open_json((f'{{"a": 1, "a": {raw}}}' if twice else raw).encode())
    selector = Selector.parse(at)
    wanted = [node for node in document.find(selector) if needle in node.text]
    assert list(find_matching(document, selector, lambda text: needle in text)) == wanted
    everywhere = [node for node in document.find(None) if needle in node.text]
    assert list(find_matching(document, None, lambda text: needle in text)) == everywhere
    fitting = [n for n in everywhere if selector.match(split_pointer(n.pointer)) is not None]
    bound = bool(selector.tokens) and selector.tokens[-1].name is not None
    assert [n.start for n in wanted] == [n.start for n in fitting if bound or n.role != "key"]


def test_no_edit_is_identity() -> None:
    """A document with nothing edited is the same bytes."""
    assert apply_edits(MAP, open_json(MAP).set("", json.loads(MAP))) == MAP


@given(
    st.dictionaries(
        st.sampled_from(["a", "b", "ab", 'a"', "é", "b\\"]),
        st.lists(st.dictionaries(st.sampled_from("ab"), st.sampled_from(["a", "ab", 'b"', "é\n", "x", 1]))),
        max_size=4,
    ),
    st.sampled_from(["/{x}", "/{x}/{y}/a", "/a/{y}/{z}", "/{x}/0/a", "/a/1/{z}"]),
    st.sampled_from(["a", "b", "x"]),
)
def test_texts_that_stand_once_are_found_where_they_stand(value: object, at: str, needle: str) -> None:
    """Searched for instead of walked to, a text has the place that the whole walk gives it."""
    document = open_json(json.dumps(value, ensure_ascii=False, indent=1).encode())
    selector = Selector.parse(at)
    found = [
        (n.pointer, n.role, n.start, n.end) for n in find_matching(document, selector, lambda t: needle in t)
    ]
    last_binds = selector.tokens[-1].name is not None
    assert found == [
        (n.pointer, n.role, n.start, n.end)
        for n in document.find(None)
        if needle in n.text
        and selector.match(split_pointer(n.pointer)) is not None
        and (n.role == "value" or last_binds)
    ]

"""XML manifests: found, read and edited by bytes; checked against xml.etree and lxml."""

import random
import time
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.opening import edit_document
from workbench.manifests.selector import Selector, join_pointer
from workbench.manifests.xml_document import open_xml

MENU = """<?xml version="1.0"?>
<!-- the menu of the device -->
<menu>
  <!-- the old one -->
  <item id="Bo&amp;ats"  says='Caf&#233; "x"'><at>/mnt/store/Bo&#x26;ats/begin</at></item>
  <item id="Tales" says="no"/> <!-- last -->

  <empty/>
  <note>
    one &lt; <![CDATA[two & <b>]]> three
  </note>
</menu>
"""


def _edit(raw: str, wish: str, *args: object) -> str:
    document = open_xml(raw.encode())
    return edit_document(document, getattr(document, wish)(*args)).decode()


@pytest.mark.parametrize(
    ("at", "found"),
    [
        (
            "/menu/0/item/{row}/@id",
            [
                ("attribute", "/menu/0/item/0/@id", "Bo&ats", 5),
                ("attribute", "/menu/0/item/1/@id", "Tales", 6),
            ],
        ),
        (
            "/menu/0/item/{row}/at/0/#text",
            [("text", "/menu/0/item/0/at/0/#text", "/mnt/store/Bo&ats/begin", 5)],
        ),
        ("/menu/0/note/0/#text", [("text", "/menu/0/note/0/#text", "one < two & <b> three", 10)]),
        ("/menu/0/{name}", [
            ("key", "/menu/0/item/0", "item", 5), ("key", "/menu/0/item/1", "item", 6),
            ("key", "/menu/0/empty/0", "empty", 8), ("key", "/menu/0/note/0", "note", 9),
        ]),
        ("/menu/0/item/1/@{name}", [
            ("key", "/menu/0/item/1/@id", "id", 6), ("attribute", "/menu/0/item/1/@id", "Tales", 6),
            ("key", "/menu/0/item/1/@says", "says", 6), ("attribute", "/menu/0/item/1/@says", "no", 6),
        ]),
        ("/menu/1/item/{row}/@id", []),
        ("/menu/0/item/{row}/@id/x", []),
        ("", []),
    ],
)  # fmt: skip
def test_find(at: str, found: list[tuple[str, str, str, int]]) -> None:
    """A selector finds attributes, texts and names, decoded, with line and pointer."""
    nodes = list(open_xml(MENU.encode()).find(Selector.parse(at)))
    assert [(node.role, node.pointer, node.text, node.line) for node in nodes] == found


def test_find_binds_and_spans() -> None:
    """A node comes with its bindings and the bytes of the value, quotes included."""
    node = next(open_xml(MENU.encode()).find(Selector.parse("/menu/0/item/{row}/@says")))
    assert node.bindings == {"row": "0"}
    assert MENU.encode()[node.start : node.end] == b"""'Caf&#233; "x"'"""


def test_get() -> None:
    """Data at a pointer: text, element, list, document."""
    document = open_xml(MENU.encode())
    assert document.get("/menu/0/item/0/@says") == 'Café "x"'
    assert document.get("/menu/0/item/1") == {"@id": "Tales", "@says": "no"}
    assert [item["@id"] for item in document.get("/menu/0/item")] == ["Bo&ats", "Tales"]
    assert document.get("")["menu"][0]["empty"] == [{}]
    assert document.line_of("/menu/0/note/0/#text") == 10


@pytest.mark.parametrize(
    "pointer",
    [
        "/menu/0/item/2",
        "/menu/0/item/01",
        "/menu/0/item/-",
        "/menu/0/x",
        "/x/0",
        "/menu/0/item/0/@x",
        "/menu/0/#text",
    ],
)
def test_get_nothing(pointer: str) -> None:
    """A pointer that leads nowhere is said in words."""
    with pytest.raises(ManifestError, match="holds nothing at"):
        open_xml(MENU.encode()).get(pointer)


@pytest.mark.parametrize(
    ("raw", "line", "column"),
    [
        (b"<a>\n<b></a>", 2, 4),
        (b"<a x=1/>", 1, 6),
        (b"<a x='1' x='2'/>", 1, 10),
        (b"<a>\r\n\r\n  & b</a>", 3, 4),
        (b"<a>&nope;</a>", 1, 4),
        (b"<a/><b/>", 1, 5),
        ("<é>\n ü < ü</é>".encode(), 2, 5),
        (b"<a>]]></a>", 1, 6),
        (b"<a><!-- x -- y --></a>", 1, 13),
        (b" <?xml version='1.0'?><a/>", 1, 2),
        (b"<a>\x01</a>", 1, 4),
        (b"", 1, 1),
    ],
)
def test_fault_has_line_and_column(raw: bytes, line: int, column: int) -> None:
    """What XML 1.0 (5th edition) forbids is named with line and column in characters."""
    with pytest.raises(etree.XMLSyntaxError):
        etree.fromstring(raw, etree.XMLParser(resolve_entities=False))
    with pytest.raises(ManifestError) as caught:
        open_xml(raw, "menu.xml")
    assert (caught.value.line, caught.value.column) == (line, column)
    assert "menu.xml" in caught.value.message


BOMB = b"""<?xml version="1.0"?>
<!DOCTYPE menu [
  <!ENTITY a "aaaaaaaaaa"> <!-- ]> -->
  <!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">
  %s
  <!ATTLIST menu big CDATA "&z;">
]>
<menu id="&z;"><item>&z; &amp; &lt;</item></menu>
""" % b"\n".join(b'<!ENTITY %c "%s">' % (c, b"&%c;" % (c - 1) * 10) for c in range(ord("c"), ord("z") + 1))


def test_entity_bomb_is_never_expanded() -> None:
    """Entities that a document declares stay as they are written; nothing grows, nothing is edited."""
    started = time.process_time()
    document = open_xml(BOMB, "m.xml")
    assert [node.text for node in document.find(None)] == ["&z;", "&z; & <"]
    assert time.process_time() - started < 1
    for wish in (lambda: document.set("/menu/0/@id", "x"), lambda: document.delete("/menu/0/@id")):
        with pytest.raises(ManifestError, match="DTD") as caught:
            wish()
        assert caught.value.line == 2


@pytest.mark.parametrize(
    "dtd", [b"<!DOCTYPE m>", b"<!DOCTYPE m SYSTEM 'm[1].dtd'>", b'<!DOCTYPE m PUBLIC "x" "y">']
)
def test_a_dtd_that_only_names_a_file_is_left_alone(dtd: bytes) -> None:
    """The document is edited around it; what it may declare elsewhere stays as it is written."""
    raw = b"<?xml version='1.0'?>\n" + dtd + b"\n<m><i n='Boats'>&own; Boats</i></m>\n"
    document = open_xml(raw, "m.xml")
    document.check_editable()
    after = apply_edits(raw, document.set("/m/0/i/0/@n", "A & B"))
    assert after == raw.replace(b"n='Boats'", b"n='A &amp; B'")
    node = next(node for node in document.find(None) if node.role == "text")
    edit = document.replace_part(node, node.text.index("Boats"), len(node.text), "Sails")
    assert edit is not None and apply_edits(raw, (edit,)) == raw.replace(b"; Boats", b"; Sails")


@pytest.mark.parametrize("raw", [b"<a>" * 100_000, b"<a>" * 100_000 + b"</a>" * 100_000])
def test_deep_nesting_is_refused_fast(raw: bytes) -> None:
    """100,000 levels give an error in words, at once."""
    started = time.process_time()
    with pytest.raises(ManifestError, match="nested deeper than 512"):
        open_xml(raw)
    assert time.process_time() - started < 2


def test_512_levels_are_read() -> None:
    """As deep as is allowed, everything works without recursion trouble."""
    document = open_xml(b"<a>" * 512 + b"x" + b"</a>" * 512)
    assert [node.text for node in document.find(None)] == ["x"]


@pytest.mark.parametrize("encoding", ["utf-16", "shift_jis", "utf-7"])
def test_encodings_that_are_refused(encoding: str) -> None:
    """An encoding that is not edited is refused by name or kind."""
    with pytest.raises(ManifestError, match="UTF-8"):
        open_xml(f"<?xml version='1.0' encoding='{encoding}'?><a/>".encode(encoding))


@pytest.mark.parametrize("encoding", ["iso-8859-1", "windows-1252", "us-ascii", "utf-8"])
def test_declared_encodings_are_kept(encoding: str) -> None:
    """A new text is written in the document's encoding, what it lacks as a character reference."""
    raw = f"<?xml version='1.0' encoding='{encoding}'?><a x='é'>é</a>".encode(encoding, "xmlcharrefreplace")
    document = open_xml(raw)
    edited = edit_document(document, document.set("/a/0/#text", "ö€😀"))
    root = ElementTree.fromstring(edited)
    assert (root.text, root.get("x")) == ("ö€😀", "é")
    edited.decode(encoding)


def test_bom_is_kept() -> None:
    """A BOM stays, and offsets count it."""
    raw = b"\xef\xbb\xbf<a x='1'/>\r\n"
    document = open_xml(raw)
    assert edit_document(document, document.set("/a/0/@x", "2")) == raw.replace(b"1", b"2")


@pytest.mark.parametrize(
    ("wish", "old", "new"),
    [
        (("set", "/menu/0/item/1/@says", 'a"<&\n'), 'says="no"', 'says="a&quot;&lt;&amp;&#10;"'),
        (("set", "/menu/0/item/0/@says", 'it\'s "x"'), "'Caf&#233; \"x\"'", "'it&apos;s \"x\"'"),
        (("set", "/menu/0/item/1", {"@id": "Tales", "@says": 7}), 'says="no"', 'says="7"'),
        (("set", "/menu/0/item/1", {"@id": "T"}), '<item id="Tales" says="no"/>', '<item id="T"/>'),
        (("set", "/menu/0/item/0/at/0/#text", " x"), "/mnt/store/Bo&#x26;ats/begin", "&#32;x"),
        (("set", "/menu/0/note/0/#text", "x"), "one &lt; <![CDATA[two & <b>]]> three", "x"),
        (("insert", "/menu/0/item/1/@n", 3), 'says="no"', 'says="no" n="3"'),
        (("insert", "/menu/0/item/0/@n", 3), '"x"\'', '"x"\'  n="3"'),
        (("insert", "/menu/0/empty/0/@n", ""), "<empty/>", '<empty n=""/>'),
        (("insert", "/menu/0/empty/0/#text", "x"), "<empty/>", "<empty>x</empty>"),
        (("insert", "/menu/0/empty/0/k/-", "v"), "<empty/>", "<empty>\n    <k>v</k>\n  </empty>"),
        (("insert", "/menu/0/empty/-", None), "  <empty/>\n", "  <empty/>\n  <empty/>\n"),
        (("insert", "/menu/0/item/-", {"@id": "Z"}), "<!-- last -->\n", '<!-- last -->\n  <item id="Z"/>\n'),
        (("insert", "/menu/0/item/0", {"@id": "Z"}), "  <!-- the old", '  <item id="Z"/>\n  <!-- the old'),
        (("insert", "/menu/0/new", "x"), "</note>\n", "</note>\n  <new>x</new>\n"),
        (("insert", "/menu/0/item/0/b/0", None), "</at>", "</at><b/>"),
        (("delete", "/menu/0/item/1"), '  <item id="Tales" says="no"/> <!-- last -->\n', ""),
        (("delete", "/menu/0/item/0/at/0"), "<at>/mnt/store/Bo&#x26;ats/begin</at>", ""),
        (("delete", "/menu/0/item/0/@says"), "  says='Caf&#233; \"x\"'", ""),
        (("delete", "/menu/0/note/0/#text"), "one &lt; <![CDATA[two & <b>]]> three", ""),
        (("rename_key", "/menu/0/item/1/@says", "tells"), ' says="no"', ' tells="no"'),
        (("rename_key", "/menu/0/item/1/@says", "@tells"), ' says="no"', ' tells="no"'),
        (("rename_key", "/menu/0/empty/0", "leer"), "<empty/>", "<leer/>"),
    ],
)
def test_edit_in_style(wish: tuple[str, object], old: str, new: str) -> None:
    """An edit looks as its neighbours do; nothing else changes."""
    assert MENU.count(old) == 1
    assert _edit(MENU, *wish) == MENU.replace(old, new)
    assert _edit(MENU.replace("\n", "\r\n"), *wish) == MENU.replace(old, new).replace("\n", "\r\n")


def test_delete_takes_the_comment_above() -> None:
    """The comment line right above an element goes with it."""
    edited = _edit(MENU, "delete", "/menu/0/item/0")
    assert "the old one" not in edited and "of the device" in edited
    assert edited.count("\n") == MENU.count("\n") - 2


@pytest.mark.parametrize(
    "wish",
    [
        ("set", "", {}),
        ("set", "/menu/0/item", []),
        ("set", "/menu/0/item/9/@id", "x"),
        ("set", "/menu/0/item/0/@id", "\x01"),
        ("set", "/menu/0/item/0/@id", "\ud800"),
        ("set", "/menu/0/item/0/@id", ["x"]),
        ("insert", "/menu/1", {}),
        ("insert", "/menu/0/item/0/@id", "x"),
        ("insert", "/menu/0/item/3", {}),
        ("insert", "/menu/0/item/x", {}),
        ("insert", "/menu/0/a b/0", {}),
        ("insert", "/menu/0/note/0/#text", "x"),
        ("delete", "/menu/0"),
        ("delete", "/menu/0/item"),
        ("rename_key", "/menu/0/item/0/@id", "says"),
        ("rename_key", "/menu/0/item/0", "1x"),
        ("rename_key", "/menu/0/item", "x"),
    ],
)
def test_wishes_that_are_refused(wish: tuple[str, object]) -> None:
    """What cannot be done is said in words, and no edit is made."""
    with pytest.raises(ManifestError, match=r"\."):
        _edit(MENU, *wish)


@pytest.mark.parametrize(
    ("raw", "old", "new", "edited"),
    [
        ("<a>x &amp; Boats &#233;</a>", "Boats", "S&T", "<a>x &amp; S&amp;T &#233;</a>"),
        ("<a>B&#111;ats/y</a>", "Boats", "Ships", "<a>Ships/y</a>"),
        ("<a><![CDATA[x Boats & y]]></a>", "Boats", "S&T]]>", "<a><![CDATA[x S&T]]]]><![CDATA[> & y]]></a>"),
        ("<a>x Bo<![CDATA[ats & y]]></a>", "Boats", "S&T", "<a>x S&amp;T<![CDATA[ & y]]></a>"),
        ("<a><![CDATA[x Bo]]>ats y</a>", "Boats", "S&T", "<a><![CDATA[x S&T]]> y</a>"),
        ("<a x='q\"Boats'/>", "Boats", "it's \"", "<a x='q\"it&apos;s \"'/>"),
        ("<a>\n\tBoats\n</a>", "Boats", "Ships", "<a>\n\tShips\n</a>"),
    ],
)
def test_replace_part(raw: str, old: str, new: str, edited: str) -> None:
    """Only those characters change, written for the context they stand in."""
    document = open_xml(raw.encode())
    node = next(document.find(None))
    start = node.text.index(old)
    edit = document.replace_part(node, start, start + len(old), new)
    assert edit is not None
    assert edit_document(document, [edit]).decode() == edited
    assert next(open_xml(edited.encode()).find(None)).text == node.text.replace(old, new)


def test_replace_across_a_comment_is_left_alone() -> None:
    """Where a comment stands between the characters, there is no edit."""
    document = open_xml(b"<a>Bo<!-- x -->ats</a>")
    node = next(document.find(None))
    assert node.text == "Boats"
    assert document.replace_part(node, 0, 5, "x") is None
    assert document.replace_part(node, 0, 2, "x") is not None


def test_name_is_replaced_in_both_tags() -> None:
    """The name of an element is replaced in its start tag and its end tag."""
    document = open_xml(b"<m><Boats x='1'>t</Boats></m>")
    node = next(document.find(Selector.parse("/m/0/{entry}")))
    edit = document.replace_part(node, 0, 5, "Ships")
    assert edit is not None
    assert edit_document(document, [edit]) == b"<m><Ships x='1'>t</Ships></m>"


TEXTS = st.text(
    st.characters(codec="utf-8", exclude_categories=("Cc", "Cs"), exclude_characters="\ufffe\uffff"),
    max_size=6,
)
NAMES = st.sampled_from(["a", "b", "é", "x-1"])
ELEMENTS = st.recursive(
    st.tuples(
        NAMES, st.dictionaries(NAMES, TEXTS, max_size=3), TEXTS.map(lambda text: text.strip(" ")), st.just(())
    ),
    lambda inner: st.tuples(
        NAMES, st.dictionaries(NAMES, TEXTS, max_size=3), st.just(""), st.lists(inner, max_size=4)
    ),
    max_leaves=10,
)


def _write(element: tuple, dice: random.Random, newline: str) -> str:
    """The element as XML in any odd layout."""
    name, attributes, text, children = element

    def spell(value: str, special: str) -> str:
        out = (f"&#{ord(c)};" if c in special or dice.random() < 0.2 else c for c in value)
        return "".join(out)

    parts = [f"<{name}"]
    for key, value in attributes.items():
        quote = dice.choice("'\"")
        gap = dice.choice([" ", "  ", newline])
        parts.append(f"{gap}{key}{dice.choice(['=', ' = '])}{quote}{spell(value, '<&' + quote)}{quote}")

    def space() -> str:
        choices = ["", " ", newline, newline + "  ", "<!-- it's <x> -->", "<?p q?>"]
        return dice.choice(choices) + dice.choice(choices)

    if not text and not children and dice.random() < 0.5:
        return "".join(parts) + dice.choice(["/>", " />"])
    cdata = dice.random() < 0.3 and "]]>" not in text
    body = f"<![CDATA[{text}]]>" if cdata and text else spell(text, "<&>")
    inside = body if text else space() + "".join(_write(child, dice, newline) + space() for child in children)
    return "".join(parts) + f">{inside}</{name}{dice.choice(['', ' '])}>"


def _plain(element: ElementTree.Element) -> dict:
    """An element of xml.etree in the shape that `get` gives."""
    data: dict = {f"@{key}": value for key, value in element.attrib.items()}
    texts = [element.text, *(child.tail for child in element)]
    kept = [text.strip(" \n") for text in texts if text and text.strip(" \n")]
    if kept:
        data["#text"] = " ".join(kept)
    for child in element:
        data.setdefault(child.tag, []).append(_plain(child))
    return data


@given(ELEMENTS, st.randoms(use_true_random=False), st.booleans())
def test_reads_what_etree_reads(element: tuple, dice: random.Random, crlf: bool) -> None:
    """The data is what xml.etree and lxml read, and every text has its pointer."""
    raw = _write(element, dice, "\r\n" if crlf else "\n").encode()
    document = open_xml(raw)
    root = ElementTree.fromstring(raw)
    assert document.get("") == {root.tag: [_plain(root)]}
    assert etree.fromstring(raw).tag == root.tag
    for node in document.find(None):
        assert document.get(node.pointer) == node.text
        assert document.line_of(node.pointer) == node.line


def _elements(value: dict, tokens: tuple[str, ...]):
    yield tokens, value
    for name, items in value.items():
        for index, item in enumerate(items if isinstance(items, list) else ()):
            yield from _elements(item, (*tokens, name, str(index)))


@given(ELEMENTS, TEXTS, st.data(), st.randoms(use_true_random=False))
def test_edits_agree_with_a_model(element: tuple, new: str, data: st.DataObject, dice: random.Random) -> None:
    """Whatever is set, inserted or deleted, xml.etree reads exactly that and nothing else."""
    raw = _write(element, dice, "\n").encode()
    document = open_xml(raw)
    tree = {"root": [_plain(ElementTree.fromstring(raw))]}
    tokens, here = data.draw(st.sampled_from(list(_elements(tree["root"][0], (element[0], "0")))))
    wish = data.draw(st.sampled_from(["attribute", "insert", "delete", "text", "rename"]))
    pointer = join_pointer(tokens)
    if wish == "attribute":
        known = [key for key in here if key.startswith("@")]
        edits = (
            document.set(f"{pointer}/{known[0]}", new) if known else document.insert(f"{pointer}/@new", new)
        )
        here[known[0] if known else "@new"] = new
    elif wish == "insert":
        same = here.setdefault("a", [])
        index = data.draw(st.integers(0, len(same)))
        item = {"@n": new, "b": [{"#text": "t"}, {}]}
        edits = document.insert(f"{pointer}/a/{index}", item)
        same.insert(index, item)
    elif wish == "delete" and len(tokens) > 2:
        edits = document.delete(pointer)
        parent = next(value for path, value in _elements(tree["root"][0], tokens[:2]) if path == tokens[:-2])
        del parent[tokens[-2]][int(tokens[-1])]
        if not parent[tokens[-2]]:
            del parent[tokens[-2]]
    elif wish == "text" and new.strip(" ") and "#text" in here:
        edits = document.set(f"{pointer}/#text", new.strip(" "))
        here["#text"] = new.strip(" ")
    else:
        edits = document.rename_key(join_pointer(tokens[:2]), "renamed")
    edited = edit_document(document, edits)
    assert _plain(ElementTree.fromstring(edited)) == tree["root"][0]
    etree.fromstring(edited)


@given(ELEMENTS, st.randoms(use_true_random=False))
def test_setting_what_is_there_changes_nothing(element: tuple, dice: random.Random) -> None:
    """A no-op edit gives identical bytes."""
    document = open_xml(_write(element, dice, "\r\n").encode())
    pointer = join_pointer((element[0], "0"))
    assert list(document.set(pointer, document.get(pointer))) == []
    for node in document.find(None):
        assert list(document.set(node.pointer, node.text)) == []

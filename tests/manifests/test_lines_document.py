"""Plain lists: checked against a model, a Python list of lines; tags of extended M3U by RFC 8216, 4.1."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.document import apply_edits
from workbench.manifests.lines_document import LinesDocument, open_lines
from workbench.manifests.selector import Selector

M3U = b"#EXTM3U\n#EXTINF:1,One\na/one.x\n\n#EXTINF:2,Two\n#note\nb/two.x\n"
LINE = Selector.parse("/#line")


def edited(raw: bytes, edits: object) -> bytes:
    return apply_edits(raw, edits)  # type: ignore[arg-type]


@given(
    items=st.lists(st.text("ab# é/", min_size=1, max_size=5).filter(lambda t: t.strip() and t == t.rstrip())),
    ending=st.sampled_from(["\n", "\r\n"]),
    has_bom=st.booleans(),
    has_end=st.booleans(),
    index=st.integers(0, 9),
)
def test_edits_agree_with_a_list(
    items: list[str], ending: str, has_bom: bool, has_end: bool, index: int
) -> None:
    """Set, insert and delete do to the file what they do to a list; BOM, endings and the last line stay."""
    head = b"\xef\xbb\xbf" if has_bom else b""

    def written(lines: list[str]) -> bytes:
        return head + (ending.join(lines) + (ending if has_end and lines else "")).encode()

    raw = written(items)
    document = open_lines(raw)
    assert document.get("") == items
    assert [node.text for node in document.find(LINE)] == items
    if not items:
        return
    index %= len(items)
    rest = items[:index] + items[index + 1 :]
    assert edited(raw, document.set(f"/{index}", "new")) == written(
        [*items[:index], "new", *items[index + 1 :]]
    )
    if ending in raw.decode():
        assert edited(raw, document.insert(f"/{index}", "n")) == written(
            [*items[:index], "n", *items[index:]]
        )
        assert edited(raw, document.insert("/-", "n")) == written([*items, "n"])
    if rest:
        assert edited(raw, document.delete(f"/{index}")) == written(rest)


def test_tags_are_no_items_but_go_with_theirs() -> None:
    """`find` by selector skips them, `find(None)` yields them; they are deleted with their line."""
    document = open_lines(M3U)
    assert [(node.pointer, node.text, node.line) for node in document.find(LINE)] == [
        ("/0", "a/one.x", 3),
        ("/1", "b/two.x", 7),
    ]
    assert [node.pointer for node in document.find(None)][:3] == ["/#comment/1", "/#comment/2", "/0"]
    assert edited(M3U, document.delete("/0")) == b"#EXTM3U\n\n#EXTINF:2,Two\n#note\nb/two.x\n"
    assert edited(M3U, document.insert("/1", "c")) == M3U.replace(b"#EXTINF:2", b"c\n#EXTINF:2")


def test_a_name_may_start_with_a_hash_in_any_other_list() -> None:
    """Without the M3U header there is no rule that makes `#` a comment."""
    assert open_lines(b"#1 Best\nOther\n").get("") == ["#1 Best", "Other"]


@pytest.mark.parametrize("raw", [b"", b"\xef\xbb\xbf", b"a", b"a\r\n\r\nb  \r\n", b"caf\xe9\n", b"a\n\n\nb"])
def test_replace_part_touches_only_its_characters(raw: bytes) -> None:
    """Also where blanks end the line or the bytes are no UTF-8."""
    document = open_lines(raw)
    for node in document.find(None):
        edit = document.replace_part(node, 0, 1, "Z")
        assert edit is not None
        assert edited(raw, [edit]) == raw[: node.start] + b"Z" + raw[node.start + 1 :]


@pytest.mark.parametrize("text", ["", " ", "a ", "a\nb", "a\rb", "a\x1bb", "#tag"])
def test_what_is_no_line_is_refused(text: str) -> None:
    """A line end, a control character, nothing at all, or (in M3U) a tag in an item's place."""
    with pytest.raises(ManifestError):
        open_lines(M3U, "data:house/list").set("/0", text)


def test_other_letters_are_not_mixed_into_another_encoding() -> None:
    """Plain letters may be put into a list in an old encoding, others would read as something else."""
    document = open_lines(b"caf\xe9\nb\n")
    assert edited(b"caf\xe9\nb\n", document.set("/1", "c")) == b"caf\xe9\nc\n"
    with pytest.raises(ManifestError, match="UTF-8"):
        document.set("/1", "é")


@pytest.mark.parametrize("raw", [b"\xff\xfea\0\n\0", b"a\0b"])
def test_what_is_no_text_is_not_opened(raw: bytes) -> None:
    """UTF-16 and binary files are refused with a sentence."""
    with pytest.raises(ManifestError):
        open_lines(raw)


@pytest.mark.parametrize("pointer", ["/2", "/-", "/01", "/x", "/0/0", "/#comment/3"])
def test_a_missing_line_is_said(pointer: str) -> None:
    """And how many there are."""
    document: LinesDocument = open_lines(b"a\nb\n", "data:x")
    with pytest.raises(ManifestError, match="data:x"):
        document.get(pointer)
    with pytest.raises(ManifestError, match="no keys"):
        document.rename_key("/0", "b")

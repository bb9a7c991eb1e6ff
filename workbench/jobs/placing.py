"""Puts a text at a pointer of a manifest, whether or not there is something yet, and takes values out."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import partial

from workbench.errors import ManifestError
from workbench.jobs.reworking import Reworked
from workbench.manifests.document import Document, Edit, Value, apply_edits
from workbench.manifests.opening import open_document
from workbench.manifests.selector import join_pointer, split_pointer


def has_place(document: Document, pointer: str) -> bool:
    """Whether the document holds something at the pointer."""
    try:
        document.get(pointer)
    except ManifestError:
        return False
    return True


def put_text(document: Document, pointer: str, text: str) -> Sequence[Edit]:
    """Edits that make the place hold the text; what is missing on the way there is made.

    Raises:
        ManifestError: the format cannot hold the text, or nothing can be made there.
    """
    if has_place(document, pointer):
        return document.set(pointer, text)
    tokens = split_pointer(pointer)
    size = next(n for n in range(len(tokens) - 1, -1, -1) if n == 0 or _holds(document, tokens[:n]))
    if document.format == "xml":
        return _put_in_xml(document, tokens, size, text)
    value: Value = text
    for token in reversed(tokens[size + 1 :]):
        value = {token: value}
    return document.insert(join_pointer(tokens[: size + 1]), value)


def _holds(document: Document, tokens: tuple[str, ...]) -> bool:
    return has_place(document, join_pointer(tokens))


def _put_in_xml(document: Document, tokens: tuple[str, ...], size: int, text: str) -> Sequence[Edit]:
    """In XML an element is a name and an index; the last element that is there takes what is missing."""
    size -= size % 2
    rest = tokens[size:]
    if len(rest) == 1:
        return document.insert(join_pointer(tokens), text)
    return document.insert(join_pointer((*tokens[:size], rest[0], "-")), _element(rest[2:], text))


def _element(tokens: tuple[str, ...], text: str) -> Value:
    if len(tokens) < 2:
        return dict.fromkeys(tokens, text)
    return {tokens[0]: [_element(tokens[2:], text)]}


def delete(document: Document, pointer: str) -> Sequence[Edit]:
    """Take out a value; an element of XML that holds nothing but a text goes whole."""
    if document.format == "xml" and pointer.endswith("/#text"):
        pointer = pointer.rpartition("/")[0]
    return document.delete(pointer)


def delete_all(reworked: Reworked, pointers: Collection[str]) -> None:
    """Take out all of these, the last first, so that numbers stay right; many lines of a list in one go.

    Raises:
        ManifestError: one cannot be taken out.
    """
    if reworked.document.format == "lines" and len(pointers) > 1:
        edits = _delete_lines(reworked.document, pointers)
        if edits is not None:
            reworked.do(lambda _: edits)
            return
    for pointer in sorted(pointers, key=by_place, reverse=True):
        reworked.do(partial(delete, pointer=pointer))


def _delete_lines(document: Document, pointers: Collection[str]) -> Sequence[Edit] | None:
    """The edits that take out many lines at once; None where they get in each other's way."""
    edits = [edit for pointer in pointers for edit in document.delete(pointer)]
    kept = [item for number, item in enumerate(document.get("")) if f"/{number}" not in pointers]
    try:
        after = open_document(apply_edits(document.raw, edits), document.format)
    except (ValueError, ManifestError):
        return None
    return edits if after.get("") == kept else None


def by_place(pointer: str) -> tuple[tuple[int, str], ...]:
    """Items by number, so that taking out the last ones first leaves the others where they are."""
    tokens = split_pointer(pointer)
    return tuple((int(token), "") if token.isascii() and token.isdigit() else (-1, token) for token in tokens)

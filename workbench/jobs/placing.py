"""Puts a text at a pointer of a manifest, whether or not there is something yet, and takes values out."""

from __future__ import annotations

from collections.abc import Sequence

from workbench.errors import ManifestError
from workbench.manifests.document import Document, Edit, Value
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


def by_place(pointer: str) -> tuple[tuple[int, str], ...]:
    """Items by number, so that taking out the last ones first leaves the others where they are."""
    tokens = split_pointer(pointer)
    return tuple((int(token), "") if token.isascii() and token.isdigit() else (-1, token) for token in tokens)

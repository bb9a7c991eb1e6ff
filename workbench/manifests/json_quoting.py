"""Writes a text as a JSON string, beyond ASCII as the document around it does."""

from __future__ import annotations

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.json_scanner import encode_basestring, encode_basestring_ascii

_ESCAPED = late_pattern(r"\\u(?:00[89a-fA-F]|0[1-9a-fA-F]|[1-9a-fA-F])")


def quote_json(text: str, is_escaped: bool) -> str:
    """A JSON string with its quotes.

    Raises:
        ManifestError: lone surrogates, which stand for bytes that are no text.
    """
    if not text.isascii() and any("\ud800" <= char <= "\udfff" for char in text):
        raise ManifestError(f"JSON cannot hold {text!r}: it is no Unicode text. Choose another text.")
    return encode_basestring_ascii(text) if is_escaped else encode_basestring(text)


def writes_escapes(text: str) -> bool:
    """Whether the document has characters beyond ASCII, all of them as escapes."""
    return "\\u" in text and text.isascii() and bool(_ESCAPED.search(text))

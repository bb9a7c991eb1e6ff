"""Strings, keys and values of TOML 1.0 (toml.io/en/v1.0.0) as they are written.

A string is edited in the quotes it has; where those cannot hold the text (a quote in a literal string), the
whole string is written again as a basic one.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Edit, Value

_PIECE = late_pattern(
    r"\\u([0-9A-Fa-f]{4})|\\U([0-9A-Fa-f]{8})|\\[ \t]*\r?\n[ \t\r\n]*|\\(.)|(\r?\n)|(.)",
    re.DOTALL,
)
_ESCAPES = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}
_NAMED = {char: f"\\{letter}" for letter, char in _ESCAPES.items()}
_BARE_KEY = late_pattern(r"[A-Za-z0-9_-]+")
_NEEDS_ESCAPE = late_pattern(r'["\\\x00-\x1f\x7f]')
_NOT_LITERAL = late_pattern(r"[\x00-\x08\x0a-\x1f\x7f]")
_NOT_ML_LITERAL = late_pattern(r"[\x00-\x08\x0b-\x1f\x7f]|'''|'\Z")


def quote_of(token: bytes) -> bytes:
    """The quotes a string or key token starts with; nothing for a bare key."""
    for quote in (b'"""', b"'''", b'"', b"'"):
        if token.startswith(quote):
            return quote
    return b""


def read_text(token: bytes) -> str:
    """What a string or key token stands for."""
    quote = quote_of(token)
    if quote in (b'"', b"'", b"") and b"\\" not in token:
        return token[len(quote) : len(token) - len(quote)].decode()
    if quote == b"'":
        return token[1:-1].decode()
    return "".join(text for text, _, _ in _pieces(token, quote))


def _pieces(token: bytes, quote: bytes) -> Iterator[tuple[str, int, int]]:
    """Each character of a string with its span in the token."""
    size = len(quote)
    inner = token[size : len(token) - size].decode()
    at = size
    if size == 3 and (first := re.match(r"\r?\n", inner)):
        inner, at = inner[first.end() :], at + first.end()
    is_literal = quote[:1] in (b"'", b"")
    for found in re.finditer(r"(\r?\n)|(.)", inner, re.DOTALL) if is_literal else _PIECE.finditer(inner):
        end = at + len(found[0].encode())
        if is_literal:
            yield found[0] if found[0] != "\r\n" else "\n", at, end
        elif found[1] or found[2]:
            yield chr(int(found[1] or found[2], 16)), at, end
        elif found[3]:
            yield _ESCAPES[found[3]], at, end
        elif found[4]:
            yield "\n", at, end
        elif found[5]:
            yield found[5], at, end
        at = end


def replace_in_text(token: bytes, at: int, start: int, end: int, text: str) -> Edit:
    """The edit that puts `text` in place of characters `start:end` of the token that starts at byte `at`."""
    quote = quote_of(token)
    whole = _spliced(token, start, end, text)
    if not quote:
        return Edit(at, at + len(token), write_key(whole))
    new = _within(text, quote)
    spans = [(first, last) for _, first, last in _pieces(token, quote)]
    if new is not None:
        first = spans[start][0] if start < len(spans) else len(token) - len(quote)
        last = spans[end - 1][1] if end > start else first
        edited = token[:first] + new + token[last:]
        if _is_whole(edited, quote) and read_text(edited) == whole:
            return Edit(at + first, at + last, new)
    return Edit(at, at + len(token), write_text(whole))


def bare_again(token: bytes, start: int, end: int, text: str) -> bytes | None:
    """A key whose quotes only its old text needed, without them; None where it keeps them.

    So a bare key that was given a name which has to be quoted is bare again when it gets its own back.
    """
    whole = _spliced(token, start, end, text)
    needed = token[:1] == b'"' and not _BARE_KEY.fullmatch(read_text(token))
    return whole.encode() if needed and _BARE_KEY.fullmatch(whole) else None


def _spliced(token: bytes, start: int, end: int, text: str) -> str:
    old = read_text(token)
    return old[:start] + text + old[end:]


def _within(text: str, quote: bytes) -> bytes | None:
    """The text as it is written between these quotes, or None."""
    if quote[:1] == b'"':
        return _utf8(_NEEDS_ESCAPE.sub(_escape, text))
    if quote == b"'''":
        return None if _NOT_ML_LITERAL.search(text) else _utf8(text)
    return None if "'" in text or _NOT_LITERAL.search(text) else _utf8(text)


def _is_whole(token: bytes, quote: bytes) -> bool:
    """Whether a literal string still ends where it should."""
    inner = token[len(quote) : len(token) - len(quote)]
    return quote[:1] == b'"' or quote not in inner + quote[:-1]


def _escape(found: re.Match[str]) -> str:
    return _NAMED.get(found[0]) or f"\\u{ord(found[0]):04X}"


def _utf8(text: str) -> bytes:
    try:
        return text.encode()
    except UnicodeEncodeError as error:
        message = f"{text!r} holds half a character, which TOML cannot hold; nothing was changed"
        raise ManifestError(message) from error


def write_text(text: str, like: bytes = b"") -> bytes:
    """A string, as a literal one if `like` is and it can be, else as a basic one."""
    if like[:1] == b"'" and (new := _within(text, b"'")) is not None:
        return b"'" + new + b"'"
    return b'"' + _utf8(_NEEDS_ESCAPE.sub(_escape, text)) + b'"'


def write_key(key: str, like: bytes = b"") -> bytes:
    """A key, bare where it can be (quoted like `like` where that is quoted)."""
    if like[:1] not in (b"'", b'"') and _BARE_KEY.fullmatch(key):
        return key.encode()
    return write_text(key, like)


def write_value(value: Value, like: bytes = b"") -> bytes:
    """A value on one line; strings quoted like `like`.

    Raises:
        ManifestError: TOML has no such value (None, say).
    """
    import datetime

    match value:
        case bool():
            return b"true" if value else b"false"
        case str():
            return write_text(value, like)
        case int():
            return str(value).encode()
        case float():
            return _write_float(value)
        case datetime.datetime() | datetime.date() | datetime.time():
            return value.isoformat().encode()
        case list():
            return b"[" + b", ".join(write_value(item, like) for item in value) + b"]"
        case dict():
            items = [write_key(str(key)) + b" = " + write_value(item, like) for key, item in value.items()]
            return b"{ " + b", ".join(items) + b" }" if items else b"{}"
    raise ManifestError(
        f"TOML cannot hold {value!r}; nothing was changed. Give a text, number, list or table."
    )


def _write_float(value: float) -> bytes:
    if math.isnan(value) or math.isinf(value):
        return str(value).encode()
    written = repr(value)
    return written.encode() if re.search(r"[.e]", written) else f"{written}.0".encode()

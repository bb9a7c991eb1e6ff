"""Text as it stands in XML: decoded with the bytes of each character, and encoded for its context.

An entity that a document declares itself is never expanded: `&name;` stays these characters.
"""

from __future__ import annotations

import re

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.typed import Literal, NamedTuple

Context = Literal["text", "attribute", "cdata"]

WHITE = " \t\r\n"
_ENTITIES = {"&lt;": "<", "&gt;": ">", "&amp;": "&", "&quot;": '"', "&apos;": "'"}
_UTF8 = r"[\xc0-\xff][\x80-\xbf]*|."
_REFERENCE = r"&(?:lt|gt|amp|quot|apos|#[0-9]+|#x[0-9a-fA-F]+);"
_PATTERNS = {
    (is_wide, has_entities): late_pattern(
        "|".join(([_REFERENCE] if has_entities else []) + [r"\r\n", _UTF8 if is_wide else "."]), re.DOTALL
    )
    for is_wide in (True, False)
    for has_entities in (True, False)
}
_ILLEGAL = late_pattern("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


class Unit(NamedTuple):
    """One character and the bytes that stand for it."""

    char: str
    start: int
    end: int
    segment: int
    is_blank: bool
    """White space as it stands: what XML writers use for layout."""


class Segment(NamedTuple):
    """A stretch of bytes that is text in one context."""

    context: Context
    start: int
    end: int


def decode_segment(view: str, codec: str, segment: Segment, number: int = 0) -> list[Unit]:
    """The characters of a segment; `view` is the document as Latin-1, one character a byte."""
    pattern = _PATTERNS[codec == "utf-8", segment.context != "cdata"]
    found = pattern.finditer(view, segment.start, segment.end)
    return [_unit(match, codec, segment.context, number) for match in found]


def _unit(match: re.Match[str], codec: str, context: Context, number: int) -> Unit:
    spelling = match[0]
    is_blank = spelling[0] in WHITE
    if is_blank:
        char = " " if context == "attribute" else spelling.replace("\r\n", "\n").replace("\r", "\n")
    elif len(spelling) > 2 and spelling[0] == "&":
        char = _ENTITIES.get(spelling) or _character(spelling[2:-1])
    else:
        char = spelling if spelling.isascii() else spelling.encode("latin-1").decode(codec)
    return Unit(char, match.start(), match.end(), number, is_blank and context == "text")


def _character(number: str) -> str:
    return chr(int(number[1:], 16) if number[0] == "x" else int(number))


def encode_text(text: str, codec: str, context: Context, quote: str = '"', newline: str = "\n") -> str:
    """The text as it is written in that context, in the view (one character a byte).

    Raises:
        ManifestError: XML has no way to write a character of it.
    """
    found = _ILLEGAL.search(text)
    if found:
        raise ManifestError(
            f"XML cannot hold {text!r}: it has no way to write {found[0]!r}. Choose another text."
        )
    if context == "cdata":
        text = (
            text.replace("]]>", "]]]]><![CDATA[>").replace("\r", "]]>&#13;<![CDATA[").replace("\n", newline)
        )
        return "".join(_in_cdata(char, codec) for char in text)
    text = text.replace("&", "&amp;").replace("<", "&lt;").replace("\r", "&#13;")
    if context == "attribute":
        text = text.replace(quote, "&quot;" if quote == '"' else "&apos;")
        text = text.replace("\n", "&#10;").replace("\t", "&#9;")
    else:
        text = text.replace(">", "&gt;").replace("\n", newline)
    return text.encode(codec, "xmlcharrefreplace").decode("latin-1")


def _in_cdata(char: str, codec: str) -> str:
    try:
        return char.encode(codec).decode("latin-1")
    except UnicodeEncodeError:
        return f"]]>&#{ord(char)};<![CDATA["


def encode_content(text: str, codec: str, newline: str) -> str:
    """An element's whole text: white space at its ends as character references, so that it is kept."""
    lead = len(text) - len(text.lstrip(WHITE))
    tail = len(text.rstrip(WHITE)) if lead < len(text) else len(text)
    parts = (text[:lead], encode_text(text[lead:tail], codec, "text", newline=newline), text[tail:])
    return "".join((_references(parts[0]), parts[1], _references(parts[2])))


def _references(white: str) -> str:
    return "".join(f"&#{ord(char)};" for char in white)

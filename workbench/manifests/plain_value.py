"""Values of INI and key=value files: the rest of a line, in quotes or not.

Quotes count only where they enclose the whole value (a comment may follow the closing one); nothing within
them is an escape. What cannot be written so that it reads back the same is refused, never bent.
"""

from __future__ import annotations

from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import byte_length, decode, encode
from workbench.manifests.document import Edit
from workbench.values import dataclass

BLANKS = b" \t\r\x0b\x0c"
_QUOTED = late_pattern(rb"\"([^\"\n]*)\"(?=[ \t]*(?:[ \t][#;].*)?\Z)|'([^'\n]*)'(?=[ \t]*(?:[ \t][#;].*)?\Z)")


@dataclass(frozen=True, slots=True)
class PlainValue:
    """One value as it stands."""

    start: int
    end: int
    """Span with its quotes, without what follows them."""
    quote: bytes
    """`"`, `'` or nothing."""
    text: str

    @property
    def text_start(self) -> int:
        return self.start + len(self.quote)


def read_value(raw: bytes, start: int, end: int) -> PlainValue:
    """The value between two offsets; blanks around it are not its own."""
    while start < end and raw[start] in BLANKS:
        start += 1
    while start < end and raw[end - 1] in BLANKS:
        end -= 1
    if raw[start : start + 1] in (b'"', b"'") and (found := _QUOTED.match(raw[start:end])):
        quote = raw[start : start + 1]
        return PlainValue(
            start, start + found.end(), quote, decode(found[1] if found[2] is None else found[2])
        )
    return PlainValue(start, end, b"", decode(raw[start:end]))


def write_value(text: str, quote: bytes) -> bytes | None:
    """The text as a value, in these quotes if it can be, else in others; None if it cannot be one."""
    new = encode(text)
    for mark in (quote, b"'", b'"', b"") if quote else (b"", b'"', b"'"):
        written = mark + new + mark
        if is_open_quote(written):
            continue
        again = read_value(written, 0, len(written))
        if again.text == text and again.end == len(written) and again.quote == mark:
            return written
    return None


def is_open_quote(written: bytes) -> bool:
    """Whether a value starts with a double quote that nothing closes."""
    return written[:1] == b'"' and written.count(b'"') == 1


def replace_in_value(value: PlainValue, start: int, end: int, text: str) -> Edit | None:
    """The edit that puts `text` in place of characters `start:end`; None if no quotes can hold it."""
    whole = value.text[:start] + text + value.text[end:]
    written = write_value(whole, value.quote)
    if written is None:
        return None
    if written[:1] == value.quote or (not value.quote and written == encode(whole)):
        at = value.text_start + byte_length(value.text[:start])
        return Edit(at, at + byte_length(value.text[start:end]), encode(text))
    return Edit(value.start, value.end, written)

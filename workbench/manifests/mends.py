"""Small repairs that might help at one fault of a malformed text; whether they do is judged elsewhere.

Each proposal is a handful of changes `(start, end, new)` in characters, with a sentence that says why.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import NamedTuple

from workbench.late_pattern import late_pattern
from workbench.manifests.document import Format
from workbench.manifests.json_judge import blank_extras
from workbench.manifests.positions import line_end, line_start

CURLY = "a quote pasted from a web page is put straight"
UNCLOSED = "a text that is not closed gets its closing quote"
_CURLY_DOUBLE = "\u201c\u201d\u201e\u201f\u2033"
_CURLY_SINGLE = "\u2018\u2019\u201a\u201b\u2032"
_OPENING = late_pattern(rf"(?:^|(?<=[\[{{(,:=\s]))[{_CURLY_DOUBLE}{_CURLY_SINGLE}]")
_CLOSING = late_pattern(rf"[{_CURLY_DOUBLE}{_CURLY_SINGLE}](?=\s*(?:[\]}}),:=/>?]|$|\s[^\s=]+\s*=))")
_VALUE_START = frozenset('"{[-0123456789tfn')
_VALUE_END = frozenset('"}]0123456789el')
_SINGLE_QUOTED = late_pattern(r"(?:^|(?<=[\[{,:\s]))'([^'\"\\]*)'(?=\s*(?:[\]},:]|$))")
_BARE_AMPERSAND = late_pattern(r"&(?!#?[\w.:-]+;)")


class Proposal(NamedTuple):
    """Changes that belong together, and why."""

    reason: str
    changes: tuple[tuple[int, int, str], ...]


def propose_at(text: str, format: Format, index: int) -> Iterator[Proposal]:
    """Repairs to try for a fault at that character, the likeliest first."""
    index = min(index, len(text))
    start = line_start(text, index)
    yield from _straight_quotes(text, start)
    if format == "json":
        yield from _json(text, index)
    elif format == "xml":
        yield from _xml(text, index)
    else:
        yield from _lines(text, start)
        if start > 1 and index == start:
            yield from _lines(text, line_start(text, start - 1))
        if index == len(text) and "'" in text:  # where a judge notices only at the end of the file
            yield from _lines(text, line_start(text, text.rindex("'")))


def _straight_quotes(text: str, start: int) -> Iterator[Proposal]:
    """Curly quotes of one line that stand where only a straight one can."""
    line = text[start : line_end(text, start)]
    places = sorted({match.start() for pattern in (_OPENING, _CLOSING) for match in pattern.finditer(line)})
    if places:
        changes = tuple((start + i, start + i + 1, '"') for i in places)
        yield Proposal(CURLY, changes)


def _json(text: str, index: int) -> Iterator[Proposal]:
    clean = blank_extras(text)[0]
    char = clean[index : index + 1]
    if char == "'":
        yield from _double_quotes(text, line_start(text, index))
    before = len(clean[:index].rstrip(" \t\r\n"))
    if char in _VALUE_START and clean[before - 1 : before] in _VALUE_END:
        yield Proposal("a missing comma is put in", ((before, before, ","),))
        yield Proposal("a missing colon is put in", ((before, before, ":"),))
    if char == ",":
        yield Proposal("a comma with nothing before it is taken out", ((index, index + 1, ""),))
    if char in ("]", "}") and clean[before - 1 : before] == ",":
        yield Proposal("a trailing comma is taken out", ((before - 1, before, ""),))
    if char == "\t":
        yield Proposal("a tab inside a text is written as \\t", ((index, index + 1, "\\t"),))
    yield from _close_json_string(text, index)
    yield Proposal("a text that is not opened gets its opening quote", ((index, index, '"'),))


def _double_quotes(text: str, start: int) -> Iterator[Proposal]:
    """Texts of one line in single quotes, which JSON does not know (RFC 8259, section 7)."""
    line = text[start : line_end(text, start)]
    spans = [match.span() for match in _SINGLE_QUOTED.finditer(line)]
    places = sorted(place for low, high in spans for place in (low, high - 1))
    if places:
        changes = tuple((start + place, start + place + 1, '"') for place in places)
        yield Proposal("single quotes become double ones", changes)


def _close_json_string(text: str, index: int) -> Iterator[Proposal]:
    start = line_start(text, index)
    line = text[start : line_end(text, start)]
    tail = re.search(r"[ \t]*([\]}]*)[ \t]*,?[ \t]*$", line)
    places = [tail.start()] if tail else []
    places += [tail.end(1)] if tail and tail[1] else []
    quote = line.rfind('"', 0, max(index - start, 0))
    places += [quote + 1 + match.start() for match in re.finditer(r"[ \t]*:", line[quote + 1 :])][:3]
    for place in places:
        yield Proposal(UNCLOSED, ((start + place, start + place, '"'),))


def _xml(text: str, index: int) -> Iterator[Proposal]:
    start, end = line_start(text, index), line_end(text, index)
    places = [start + match.start() for match in _BARE_AMPERSAND.finditer(text[start:end])]
    if places:
        changes = tuple((place, place + 1, "&amp;") for place in places)
        yield Proposal("a bare '&' is written as '&amp;'", changes)
    lead = len(text) - len(text.lstrip())
    if lead and text.startswith("<?xml", lead):
        yield Proposal("white space before the XML declaration is taken out", ((0, lead, ""),))


def _lines(text: str, start: int) -> Iterator[Proposal]:
    """For formats of lines: a quote or bracket that the line does not close."""
    line = text[start : line_end(text, start)]
    end = len(line.rstrip())
    if line.lstrip().startswith("[") and "]" not in line:
        closing = "]]" if line.lstrip().startswith("[[") else "]"
        yield Proposal("a section's missing bracket is put in", ((start + end, start + end, closing),))
    tail = re.search(r"[ \t]*[\]},]+$", line[:end])
    for quote in ('"', "'"):
        if line.count(quote) % 2:
            yield Proposal(UNCLOSED, ((start + end, start + end, quote),))
            if tail:
                yield Proposal(UNCLOSED, ((start + tail.start(), start + tail.start(), quote),))
    comma = re.search(r",(?=\s*\})", line)
    if comma:
        at = start + comma.start()
        yield Proposal("a trailing comma is taken out", ((at, at + 1, ""),))

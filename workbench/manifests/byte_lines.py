"""Lines of raw bytes. Formats whose syntax is ASCII are scanned as bytes, so that every index is a span.

A line ends at LF (a CR before it belongs to the ending). Text is UTF-8; bytes that are none stay as
lone surrogates, so that they come out as they went in.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern
from workbench.manifests.looking import CouldMatch, find_places
from workbench.manifests.positions import BOM, malformed, refused
from workbench.typed import NamedTuple

_CONTROL = late_pattern(r"[\x00-\x08\x0a-\x1f\x7f]")


class Line(NamedTuple):
    start: int
    end: int
    """Without the line ending."""
    stop: int
    """With the line ending."""


def split_lines(raw: bytes) -> list[Line]:
    """The lines after a BOM (after the last line ending no further line starts)."""
    lines: list[Line] = []
    start, size = skip_bom(raw), len(raw)
    while start < size:
        stop = raw.find(b"\n", start) + 1 or size
        end = stop - 1 if raw[stop - 1] == 0x0A else stop
        lines.append(Line(start, end - 1 if end > start and raw[end - 1] == 0x0D else end, stop))
        start = stop
    return lines


def line_at(raw: bytes, start: int) -> Line:
    """The line that starts there."""
    stop = raw.find(b"\n", start) + 1 or len(raw)
    end = stop - 1 if stop > start and raw[stop - 1] == 0x0A else stop
    return Line(start, end - 1 if end > start and raw[end - 1] == 0x0D else end, stop)


def find_lines(raw: bytes, start: int, could_match: CouldMatch) -> Iterator[Line]:
    """The lines from `start` on for which `could_match` holds; it is asked about whole stretches first."""
    text = decode(raw[start:])
    places = find_places(could_match, text) if text.isascii() else None
    if places is not None:
        yield from _lines_at(raw, start, [start + place for place in places])
        return
    waiting = [(start, len(raw))]
    while waiting:
        start, stop = waiting.pop()
        if start >= stop or not could_match(decode(raw[start:stop])):
            continue
        middle = raw.find(b"\n", (start + stop) // 2, stop) + 1
        if stop - start > _STRETCH and start < middle < stop:
            waiting += (middle, stop), (start, middle)
            continue
        while start < stop:
            line = line_at(raw, start)
            if could_match(decode(raw[line.start : line.end])):
                yield line
            start = line.stop


def _lines_at(raw: bytes, start: int, places: Iterable[int]) -> Iterator[Line]:
    """The lines that hold these bytes, each once; a line starts at `start`."""
    done = start
    for place in places:
        if place >= done:
            line = line_at(raw, raw.rfind(b"\n", start, place) + 1 or start)
            done = line.stop
            yield line


_STRETCH = 256
"""Bytes within which lines are looked at one by one."""


class LineTable:
    """Line numbers of offsets, made once per document and only when asked."""

    def __init__(self, raw: bytes) -> None:
        self._raw = raw
        self._starts: list[int] = []

    def number(self, offset: int) -> int:
        """The 1-based line that holds this byte."""
        if not self._starts:
            self._starts = [0, *(match.end() for match in re.finditer(rb"\n", self._raw))]
        from bisect import bisect_right

        return bisect_right(self._starts, offset)


def skip_bom(raw: bytes) -> int:
    """Where the text starts."""
    return len(BOM) if raw.startswith(BOM) else 0


def decode(raw: bytes) -> str:
    """UTF-8; other bytes as lone surrogates."""
    return raw.decode("utf-8", "surrogateescape")


def encode(text: str) -> bytes:
    """The bytes that `decode` turned into this text.

    Raises:
        ManifestError: the text holds a surrogate that stands for no byte.
    """
    try:
        return text.encode("utf-8", "surrogateescape")
    except UnicodeEncodeError as error:
        message = f"{text!r} holds half a character, which no file can hold; nothing was changed"
        raise ManifestError(message) from error


def byte_length(text: str) -> int:
    """Bytes that this much of a decoded text takes."""
    return len(text) if text.isascii() else len(encode(text))


def newline_of(raw: bytes) -> bytes:
    """The line ending that comes first; LF where there is none."""
    first = raw.find(b"\n")
    return b"\r\n" if first > 0 and raw[first - 1 : first] == b"\r" else b"\n"


def broken_at(raw: bytes, offset: int, path: str, problem: str) -> ManifestError:
    """The error for bytes that stop being well formed at an offset."""
    head = skip_bom(raw)
    return malformed(path, decode(raw[head:]), len(decode(raw[head:offset])), problem)


def refuse_binary(raw: bytes, path: str) -> None:
    """Only text in an ASCII-compatible encoding is read as a manifest.

    Raises:
        ManifestError: the bytes are UTF-16, or hold a NUL.
    """
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refused(path, None, "it is written in UTF-16", "save it as UTF-8 to edit it here")
    if (at := raw.find(0)) >= 0:
        raise broken_at(raw, at, path, "a NUL character stands here, which no text file holds")


def refuse_controls(text: str, path: str, line: int | None, place: str) -> None:
    """A line-based format holds neither line ends nor control characters (a tab is fine).

    Raises:
        ManifestError: it does.
    """
    if not text.isprintable() and (found := _CONTROL.search(text)):  # no control character is printable
        problem = f"{place} cannot hold the control character U+{ord(found[0]):04X}"
        raise refused(path, line, problem, "choose a text without it")


def refuse_mixed(raw: bytes, text: str, path: str, line: int | None) -> None:
    """Non-ASCII text is not put into a file in some other encoding: it would read as other characters.

    Raises:
        ManifestError: the file is no UTF-8 and the text is not ASCII.
    """
    if text.isascii():
        return
    try:
        raw.decode()
    except UnicodeDecodeError as error:
        problem = f"the file is not written in UTF-8, so {text!r} would not read as such there"
        raise refused(path, line, problem, "save the file as UTF-8 first, or choose plain letters") from error

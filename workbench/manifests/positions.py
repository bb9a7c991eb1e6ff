"""Where things stand: characters of a decoded text as byte offsets, lines and columns.

Lines end at LF, CRLF or a lone CR, as editors count them. Columns count characters, from 1.
"""

from __future__ import annotations

from workbench.errors import ManifestError
from workbench.late_pattern import late_pattern

BOM = b"\xef\xbb\xbf"
_LINE_END = late_pattern(r"\r\n?|\n")


def count_lines(text: str, start: int, end: int) -> int:
    """Line endings in `text[start:end]`, a CRLF counting once; `end` never splits a CRLF."""
    breaks = text.count("\n", start, end)
    returns = text.count("\r", start, end)
    return breaks + returns - text.count("\r\n", start, end) if returns else breaks


def line_start(text: str, index: int) -> int:
    """The index at which the line that holds `index` starts."""
    if text.startswith("\r\n", index - 1) and index > 0:
        index -= 1
    return max(text.rfind("\n", 0, index), text.rfind("\r", 0, index)) + 1


def line_end(text: str, index: int) -> int:
    """The index of the line ending at or after `index` (the length of the text where there is none)."""
    found = _LINE_END.search(text, index)
    return found.start() if found else len(text)


def newline_of(text: str) -> str:
    """The line ending that the text uses first; LF where it has none."""
    found = _LINE_END.search(text)
    return found[0] if found else "\n"


class Positions:
    """Byte offsets and lines for one text; cheap when asked in rising order."""

    def __init__(self, text: str, head: int = 0) -> None:
        self._text = text
        self._head = head
        """Bytes before the text: a BOM."""
        self._is_ascii = text.isascii()
        self._has_returns = "\r" in text
        self._char, self._byte = 0, head
        self._line_at, self._line = 0, 1

    def byte(self, index: int) -> int:
        """The byte offset of a character."""
        if self._is_ascii:
            return index + self._head
        if index < self._char:
            self._char, self._byte = 0, self._head
        self._byte += len(self._text[self._char : index].encode())
        self._char = index
        return self._byte

    def line(self, index: int) -> int:
        """The 1-based line of a character."""
        if index < self._line_at:
            self._line_at, self._line = 0, 1
        if self._has_returns:
            self._line += count_lines(self._text, self._line_at, index)
        else:
            self._line += self._text.count("\n", self._line_at, index)
        self._line_at = index
        return self._line


def named(path: str) -> str:
    """The file as a sentence names it."""
    return path or "the manifest"


def malformed(path: str, text: str, index: int, problem: str) -> ManifestError:
    """The error for a text that stops being well formed at a character."""
    start = line_start(text, index)
    line, column = 1 + count_lines(text, 0, start), index - start + 1
    return ManifestError(
        f"{named(path)}, line {line}, column {column}: {problem}. "
        "The file was left as it is; correct that line.",
        path=path or None,
        line=line,
        column=column,
        text=text[start : line_end(text, start)],
    )


def refused(path: str, line: int | None, problem: str, advice: str) -> ManifestError:
    """The error for an edit that is not made, or a file that is not read as a manifest."""
    where = f"{named(path)}, line {line}" if line else named(path)
    return ManifestError(
        f"{where}: {problem}. The file was left as it is; {advice}.", path=path or None, line=line
    )


def decode_utf8(raw: bytes, path: str) -> tuple[str, int]:
    """The text without its BOM, and the BOM's length in bytes.

    Raises:
        ManifestError: the bytes are UTF-16 or no UTF-8 at all.
    """
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refused(path, None, "it is written in UTF-16", "save it as UTF-8 to edit it here")
    head = len(BOM) if raw.startswith(BOM) else 0
    try:
        return raw[head:].decode() if head else raw.decode(), head
    except UnicodeDecodeError as error:
        good = raw[head : head + error.start].decode()
        shown = good + raw[head + error.start :].decode(errors="replace")
        raise malformed(path, shown, len(good), "a byte here is no UTF-8 text") from error

"""One word of a POSIX shell script (POSIX XCU 2.2, 2.6): its text, and for each character where it stands.

A character either stands literally in the script, in one run of one quoting context, or it came out of a
variable or substitution. Only literal ones can be replaced, and what is written is quoted for the context
it lands in. The rules are dash's where shells differ (`$'…'` is not known there).
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Literal

from workbench.late_pattern import late_pattern
from workbench.manifests.byte_lines import decode, encode
from workbench.values import dataclass, field

Context = Literal["bare", "single", "double", "given"]
"""`given`: the character is not written there; an expansion gave it."""

_BARE = late_pattern(rb"[^\s;&|()<>\\'\"$`]+|[\x0b\x0c]+|\r(?!\n)")
_SINGLE = late_pattern(rb"[^']+")
_DOUBLE = late_pattern(rb"[^\"\\$`]+")
_ESCAPED = late_pattern(
    rb"\\(\n|[\x00-\x7f]|[\xc2-\xdf][\x80-\xbf]|[\xe0-\xef][\x80-\xbf]{2}|[\xf0-\xf4][\x80-\xbf]{3})"
)
LONGEST = 4096
"""Characters of a value that is worth knowing: as long as a path can be (PATH_MAX of Linux)."""
_VARIABLE = late_pattern(rb"\$(?:([A-Za-z_][A-Za-z0-9_]*)|\{([A-Za-z_][A-Za-z0-9_]*)\})")
_SPECIAL = late_pattern(rb"\$[0-9@*#?$!-]")
_NAME_BYTE = late_pattern(rb"[A-Za-z0-9_]")
_OPENERS: Mapping[str, tuple[bytes, ...]] = {"bare": (b"'", b'"', b"(", b"{"), "double": (b"(", b"{")}
"""What makes more of a `$` than itself; where the tree does not know it either, the word is left alone."""
_GLOB = late_pattern(rb"[*?\[]")
_SPLITS = late_pattern(r"[ \t\n*?\[\\]")
_PLAIN = late_pattern(r"[A-Za-z0-9_./,:@%+=^#~-]|[^\x00-\x7f]")
_ASSIGNS = late_pattern(rb"[A-Za-z_][A-Za-z0-9_]*\+?=")
_RESERVED = late_pattern(
    "if|then|else|elif|fi|do|done|case|esac|while|until|for|in|select|function|time|coproc"
)

Lookup = Callable[[str], str | None]
"""The known value of a variable at the word's place, or None."""


@dataclass(frozen=True, slots=True)
class Char:
    """Where one character of a word's text stands."""

    start: int
    end: int
    context: Context
    run: int
    """Counts quoted and unquoted stretches: equal means nothing closes or opens in between."""


@dataclass
class Word:
    """A word as read."""

    start: int
    end: int = 0
    parts: list[tuple[str, int, int, Context, int]] = field(default_factory=list)
    """Text, span, context and run of each stretch; one of one character where it is written as an escape."""
    is_constant: bool = True
    """Whether the text is the same at every run (no unknown expansion, no glob, no `~`)."""

    @cached_property
    def text(self) -> str:
        """What the command gets, as far as it is known."""
        return "".join(part[0] for part in self.parts)

    @cached_property
    def chars(self) -> list[Char]:
        """Where each character of the text stands."""
        chars: list[Char] = []
        for text, start, end, context, run in self.parts:
            if context == "given" or len(text) == 1:
                chars += [Char(start, end, context, run)] * len(text)
                continue
            for char in text:
                size = 1 if char < "\x80" or "\udc80" <= char <= "\udcff" else len(char.encode())
                chars.append(Char(start, start + size, context, run))
                start += size
        return chars


def read_word(
    raw: bytes,
    start: int,
    opaque: Mapping[int, int],
    lookup: Lookup,
    *,
    is_value: bool = False,
    in_backticks: bool = False,
) -> Word | None:
    """The word that starts at a byte, or None where this reader does not understand it.

    Args:
        opaque: start and end of each substitution, as the script's tree has them.
        is_value: it is an assignment's value (no splitting, no globbing: POSIX XCU 2.9.1).
        in_backticks: it stands within `` `…` ``, where backslashes mean something else again.
    """
    return _Reader(raw, start, opaque, lookup, is_value, in_backticks).read()


class _Reader:
    def __init__(
        self,
        raw: bytes,
        start: int,
        opaque: Mapping[int, int],
        lookup: Lookup,
        is_value: bool,
        in_backticks: bool,
    ) -> None:
        self._raw = raw
        self._at = start
        self._opaque = opaque
        self._lookup = lookup
        self._is_value = is_value
        self._in_backticks = in_backticks
        self._context: Context = "bare"
        self._run = 0
        self._word = Word(start)

    def read(self) -> Word | None:
        raw, word = self._raw, self._word
        while self._at < len(raw):
            if self._context == "single":
                is_read = self._read_single()
            else:
                is_read = (
                    self._read_literal() or self._read_quote() or self._read_escape() or self._read_dollar()
                )
            if not is_read:
                break
        if self._context != "bare" or not self._is_at_end():
            return None
        word.end = self._at
        return word

    def _add(self, start: int, end: int) -> None:
        """Take bytes in as literal text."""
        if start < end:
            part = (decode(self._raw[start:end]), start, end, self._context, self._run)
            self._word.parts.append(part)

    def _give(self, text: str, start: int, end: int) -> None:
        """Take in what an expansion at these bytes stands for."""
        self._word.parts.append((text, start, end, "given", self._run))

    def _is_at_end(self) -> bool:
        following = self._raw[self._at : self._at + 1]
        return following in b" \t\r\n;&|()<>" or (self._in_backticks and following == b"`")

    def _read_single(self) -> bool:
        if found := _SINGLE.match(self._raw, self._at):
            self._add(found.start(), found.end())
            self._at = found.end()
        if self._raw[self._at : self._at + 1] != b"'":
            return False
        self._turn("bare")
        return True

    def _read_literal(self) -> bool:
        found = (_BARE if self._context == "bare" else _DOUBLE).match(self._raw, self._at)
        if not found:
            return False
        start, end = found.span()
        if self._context == "bare":
            if start == self._word.start and found[0][:1] == b"~":
                self._give("~", start, start + 1)
                self._word.is_constant = False
                start += 1
            if not self._is_value and _GLOB.search(found[0]):
                self._word.is_constant = False
        self._add(start, end)
        self._at = end
        return True

    def _read_quote(self) -> bool:
        quote = self._raw[self._at : self._at + 1]
        if quote == b'"':
            self._turn("bare" if self._context == "double" else "double")
        elif quote == b"'" and self._context == "bare":
            self._turn("single")
        else:
            return False
        return True

    def _turn(self, context: Context) -> None:
        self._context = context
        self._run += 1
        self._at += 1

    def _read_escape(self) -> bool:
        found = _ESCAPED.match(self._raw, self._at)
        if not found or self._in_backticks:
            return False
        if found[1] == b"\n":
            self._at = found.end()
        elif self._context == "double" and found[1] not in (b"$", b"`", b'"', b"\\"):
            self._add(self._at, self._at + 1)
            self._at += 1
        else:
            text = decode(found[1])
            if len(text) != 1:  # an overlong form: no character
                return False
            self._word.parts.append((text, found.start(), found.end(), self._context, self._run))
            self._at = found.end()
        return True

    def _read_dollar(self) -> bool:
        start = self._at
        following = self._raw[start : start + 2]
        if following[:1] not in (b"$", b"`"):
            return False
        if found := _VARIABLE.match(self._raw, start):
            self._expand(decode(found[1] or found[2]), found.end())
        elif found := _SPECIAL.match(self._raw, start):
            self._leave(found.end())
        elif start in self._opaque:
            self._leave(self._opaque[start])
        elif following[:1] == b"$" and following[1:] not in _OPENERS[self._context]:
            self._add(start, start + 1)
            self._at += 1
        else:
            return False
        return True

    def _expand(self, name: str, end: int) -> None:
        value = self._lookup(name)
        is_split = self._context == "bare" and not self._is_value
        if value is None or (is_split and _SPLITS.search(value)):
            self._leave(end)
            return
        self._give(value, self._at, end)
        self._at = end

    def _leave(self, end: int) -> None:
        """Keep an expansion that nobody knows the value of as it is written (a very long one in part)."""
        self._word.is_constant = False
        self._give(decode(self._raw[self._at : min(end, self._at + LONGEST)]), self._at, end)
        self._at = end


def replace_chars(
    raw: bytes, word: Word, start: int, end: int, text: str, *, is_value: bool = False
) -> tuple[int, int, bytes] | None:
    """Where and what to write so that the word's text has `text` in place of characters `start:end`.

    None where one of these characters is not literally there. The caller reads the word again and compares.
    """
    if any(char.context == "given" for char in word.chars[start:end]):
        return None
    while start < end and start and _is_loose(raw, word.chars[start - 1], word.chars[start]):
        start -= 1
        text = word.text[start] + text
    if start == end:
        return _insert(word, start, text, is_value)
    first, last = word.chars[start], word.chars[end - 1]
    at, new = first.start, _quote(text, first.context, is_value)
    if first.run != last.run:
        new += _MARK[first.context] + _MARK[last.context]
    if first.context == "bare" and not is_value:
        new = _guard(raw, word, at, last.end, new)
    if first.context in ("bare", "double") and start and _NAME_BYTE.match(new):
        before = word.chars[start - 1]
        written = raw[before.start : before.end]
        if (
            before.end == at
            and before.context == "given"
            and _VARIABLE.fullmatch(written)
            and written[1:2] != b"{"
        ):
            at, new = before.start, b"${" + written[1:] + b"}" + new
    return at, last.end, new


_MARK: Mapping[Context, bytes] = {"bare": b"", "single": b"'", "double": b'"', "given": b""}


def _is_loose(raw: bytes, char: Char, following: Char) -> bool:
    """Whether a literal `$` or backslash could take the next character for its own once that is another."""
    if char.run != following.run or char.end != following.start or char.end - char.start != 1:
        return False
    written = raw[char.start : char.end]
    return (char.context in ("bare", "double") and written == b"$") or (
        char.context == "double" and written == b"\\"
    )


def _insert(word: Word, at: int, text: str, is_value: bool) -> tuple[int, int, bytes] | None:
    """New text between two characters, or in an empty word."""
    if not word.chars:
        new = _quote(text, "bare", is_value) if text else b"''"
        return word.start, word.end, new if text or not is_value else b""
    if at and word.chars[at - 1].context != "given":
        char = word.chars[at - 1]
        return char.end, char.end, _quote(text, char.context, is_value)
    if at < len(word.chars) and word.chars[at].context != "given":
        char = word.chars[at]
        return char.start, char.start, _quote(text, char.context, is_value)
    return None


def _guard(raw: bytes, word: Word, at: int, end: int, new: bytes) -> bytes:
    """Keep a bare word a word: no comment, home folder, assignment, file descriptor, and not gone."""
    whole = raw[word.start : at] + new + raw[end : word.end]
    if not whole:
        return b"''"
    is_descriptor = whole.isdigit() and raw[word.end : word.end + 1] in (b"<", b">")
    starts_badly = at == word.start and new[:1] in (b"#", b"~")
    if starts_badly or is_descriptor or _RESERVED.fullmatch(decode(whole)):
        return b"\\" + new
    is_assignment = _ASSIGNS.match(whole) and not _ASSIGNS.match(raw, word.start, word.end)
    return new.replace(b"=", b"\\=", 1) if is_assignment else new


def _quote(text: str, context: Context, is_value: bool) -> bytes:
    """Text as it is written within a context."""
    if context == "single":
        return encode(text.replace("'", "'\\''"))
    if context == "double":
        return encode(re.sub(r'([$`"\\])', r"\\\1", text))
    written = "".join(char if _PLAIN.match(char) else "\\" + char for char in text)
    return encode(written.replace("~", "\\~") if is_value else written)


def quote_value(text: str, like: bytes) -> bytes:
    """A whole assignment value, quoted the way `like` (another value as written) is where that can be."""
    if like[:1] not in (b"'", b'"') and re.fullmatch(r"[A-Za-z0-9_./,:@%+-]+", text):
        return encode(text)
    if like[:1] == b'"' or "'" in text:
        return b'"' + _quote(text, "double", True) + b'"'
    return b"'" + encode(text) + b"'"

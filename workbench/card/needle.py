"""Looks for a name in raw bytes before anything is parsed: cheap, and never wrong in saying no.

A name may stand in a manifest in other bytes than its own: other case, composed or not, JSON and TOML
escapes, XML references, percent-encoding, shell quoting. `could_name` knows them all; `find_words` finds what
a person would read as the name.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from functools import cached_property

from workbench.card.names import fold_name
from workbench.card.sweep import make_needles
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Format
from workbench.typed import TYPE_CHECKING, AnyStr

if TYPE_CHECKING:
    from workbench.card.profile import NamesRule

_QUOTES = b"\"'\\"
_UNQUOTING = dict.fromkeys(_QUOTES)
_ESCAPING: dict[Format, tuple[bytes, ...]] = {
    "json": (b"\\u", b"%"),
    "toml": (b"\\u", b"\\U", b"%"),
    "xml": (b"&", b"%"),
    "shell": (b"%", b"\\0", b"\\x"),
    "ini": (b"%", b"\\"),
    "keyvalue": (b"%", b"\\"),
    "lines": (b"%",),
}
"""Bytes without which no character can stand there encoded."""

_NAMED = {"&": "amp", "<": "lt", ">": "gt", '"': "quot", "'": "apos"}
"""XML 1.0, section 4.6."""

_ADJACENT_VARIABLES = late_pattern(rb"\$(?:\w+|\{\w+\})[\"']*\$")


class Needle:
    """One name to look for. `rule` is the device's: under `fat` another case names it too."""

    def __init__(self, text: str, rule: NamesRule) -> None:
        self.text = text
        self.rule = rule
        self.plain, self.wide = make_needles(text)
        self._is_ascii = text.isascii()
        self._upper = text.upper()
        self._unquoted = self._upper.translate(_UNQUOTING)
        self._composed = fold_name(text, "fat")
        self._folded = self.plain.lower()
        self._bare = self._folded.translate(None, _QUOTES)
        self._placed: tuple[str, list[int] | None] = ("", None)
        """The text that `places` was asked about last, by one rule after the other, and the answer."""
        self._is_simple = text.isascii() and not any(char in text for char in "\"'\\&<>$`")
        runs = re.findall(r"[A-Za-z0-9 _-]+", unicodedata.normalize("NFD", text) if rule == "fat" else text)
        anchor = max(runs, key=len, default="")
        self._anchor = (anchor[:-1] if not text.isascii() else anchor).lower().encode()
        """A part that stands in the bytes as it is wherever nothing is encoded."""

    def could_name(self, raw: bytes, format: Format) -> bool:
        """Whether these bytes, read as that format, could name it. Never False where they do."""
        raw = _narrow(raw, format)
        if self.plain in raw:
            return True
        folded = raw.lower() if self.rule == "fat" else raw
        if self.rule == "fat" and self._folded in folded:
            return True
        if format == "shell" and self._could_in_shell(folded):
            return True
        encoded = _holds_one(raw, _ESCAPING[format])
        if self._is_simple and not encoded:
            return False
        if not encoded and format != "shell" and self._anchor and self._anchor not in raw.lower():
            return False
        return self._loose(format).search(raw) is not None

    def could_be_in(self, text: str) -> bool:
        """Whether a decoded text could name it. Never False where it does."""
        # Spelled out: a manifest asks this of each of its texts.
        if self._upper in text.upper() or "%" in text:
            return True
        if '"' in text or "'" in text or "\\" in text:  # a command may quote any part of a name
            bare = text.translate(_UNQUOTING)
            if self._unquoted in bare.upper() or self._is_composed_in(bare, fold_name(self._unquoted, "fat")):
                return True
        return self._is_composed_in(text, self._composed)

    __call__ = could_be_in

    def places(self, text: str) -> list[int] | None:
        """Where the name starts in a decoded text, in any case: whatever part could name it holds one.

        None where it could stand there in another way: encoded, through quotes, or folded from beyond ASCII.
        """
        if text is not self._placed[0]:
            self._placed = text, self._find_places(text)
        return self._placed[1]

    def _find_places(self, text: str) -> list[int] | None:
        if not self._is_ascii or "%" in text or not (text.isascii() or _FOLDING.isdisjoint(text)):
            return None
        # Upper case of ASCII alone keeps every character's place; of bytes it is made several times as fast.
        upper = text.encode("utf-8", "surrogatepass").upper()
        if text.isascii():
            found = list(_find_each(upper, self._upper.encode()))
        else:
            found = list(_find_each(upper.decode("utf-8", "surrogatepass"), self._upper))
        bare = upper.translate(None, _QUOTES)
        if len(bare) != len(upper) and len(list(_find_each(bare, self._unquoted.encode()))) != len(found):
            return None
        return found

    def _is_composed_in(self, text: str, name: str) -> bool:
        return not (self._is_ascii or text.isascii()) and name in fold_name(text, "fat")

    def find_words(self, raw: bytes, format: Format | None = None) -> Iterator[tuple[int, int]]:
        """Spans where the name stands as a word of its own, spelled exactly so.

        With a format, encoded spellings count as well.
        """
        encoded = format is not None and _holds_one(raw, (*_ESCAPING[format], b"\\"))
        spans = (found.span() for found in self._strict.finditer(raw)) if encoded else self._find_plain(raw)
        for start, end in spans:
            if not _is_within_word(raw, start, end):
                yield start, end

    def could_stand_alone(self, raw: bytes, format: Format) -> bool:
        """Whether the name, in any spelling that the device takes, is there as a word of its own."""
        raw = _narrow(raw, format)
        return any(not _is_within_word(raw, *found.span()) for found in self._loose(format).finditer(raw))

    def _find_plain(self, raw: bytes) -> Iterator[tuple[int, int]]:
        at = raw.find(self.plain)
        while at >= 0:
            yield at, at + len(self.plain)
            at = raw.find(self.plain, at + 1)

    def _could_in_shell(self, folded: bytes) -> bool:
        """Quotes may stand anywhere in a word, and a variable may hold a part of it."""
        if self._bare in folded.translate(None, _QUOTES).lower():
            return True
        if b"$" not in folded:
            return False
        return self._split.search(folded) is not None or _ADJACENT_VARIABLES.search(folded) is not None

    @cached_property
    def _split(self) -> re.Pattern[bytes]:
        """A first part right before a variable, or a last part right after one."""
        name = self._folded
        heads = b"|".join(re.escape(name[:n]) for n in range(1, len(name)))
        tails = b"|".join(re.escape(name[n:]) for n in range(1, len(name)))
        if not heads:
            return re.compile(rb"(?!)")
        return re.compile(
            rb"(?:[/=\"' ](?:%b)[\"']*\$)|(?:\$(?:\{\w+\}[\"']*|\w+[\"']+)(?:%b)(?:[/\"'\s;]|$))"
            % (heads, tails),
            re.IGNORECASE,
        )

    @cached_property
    def _strict(self) -> re.Pattern[bytes]:
        return re.compile(b"".join(_spellings({char}) for char in self.text))

    def _loose(self, format: Format) -> re.Pattern[bytes]:
        return self._loose_in_shell if format == "shell" else self._loose_elsewhere

    @cached_property
    def _loose_elsewhere(self) -> re.Pattern[bytes]:
        return self._compile_loose(b"")

    @cached_property
    def _loose_in_shell(self) -> re.Pattern[bytes]:
        return self._compile_loose(rb"[\"'\\]*")

    def _compile_loose(self, between: bytes) -> re.Pattern[bytes]:
        if self.rule == "exact":
            choices = [[{char} for char in self.text]]
        else:
            # Some characters are gone once composed (U+2F800 becomes U+4E3D): the name's own stand there too.
            texts = dict.fromkeys((unicodedata.normalize("NFC", self.text), self.text))
            choices = [[_variants(letter) for letter in _split_letters(text)] for text in texts]
        ways = (between.join(_spellings(variants, between) for variants in way) for way in choices)
        return re.compile(b"|".join(ways))


_FOLDING = frozenset("\u0131\u017f")
"""The characters beyond ASCII that FAT takes for a letter of ASCII: their upper case is I and S."""


def _narrow(raw: bytes, format: Format) -> bytes:
    """XML in UTF-16 as UTF-8. Nobody edits it here, but what names the entry in it must not go unsaid."""
    is_wide = format == "xml" and b"\0" in raw[:4]
    return raw.decode("utf-16", "replace").encode() if is_wide else raw


def _find_each(text: AnyStr, name: AnyStr) -> Iterator[int]:
    at = text.find(name)
    while at >= 0:
        yield at
        at = text.find(name, at + 1)


def _holds_one(raw: bytes, signs: tuple[bytes, ...]) -> bool:
    # Single bytes are found at many times the speed of pairs; most files hold none of them.
    return any(sign[:1] in raw and sign in raw for sign in signs)


def _split_letters(text: str) -> Iterator[str]:
    """Each character with the combining marks after it: normalisation may put those in another order."""
    letter = ""
    for char in text:
        if letter and not unicodedata.combining(char):
            yield letter
            letter = ""
        letter += char
    if letter:
        yield letter


def _variants(letter: str) -> set[str]:
    """The letter in each case, composed and decomposed."""
    found: set[str] = set()
    for one in (letter, letter.lower(), letter.upper()):
        for form in (one, unicodedata.normalize("NFD", one)):
            found.update((form, form.lower(), form.upper()))
    return found


def _spellings(variants: set[str], between: bytes = b"") -> bytes:
    spell = _spell_in_shell if between else _spell
    choices = {between.join(map(spell, text)) for text in variants}
    return b"(?:" + b"|".join(sorted(choices)) + b")"


def _spell_in_shell(char: str) -> bytes:
    """As `_spell`; a backslash before the character is one of the quotes that stand between characters."""
    return _spell(char, is_escaped=False)


def _spell(char: str, is_escaped: bool = True) -> bytes:
    """Every way to write one character.

    No text fits two of them: where a long name almost stands, each such character would double the time.
    """
    raw = char.encode("utf-8", "surrogateescape")
    choices = [b"".join(b"(?:%b|%%%b)" % (re.escape(bytes([b])), _hex(f"{b:02x}")) for b in raw)]
    if is_escaped and not char.isalnum():
        choices.append(rb"\\" + re.escape(raw))
    units = char.encode("utf-16-be", "surrogatepass")
    pairs = [units[n : n + 2].hex() for n in range(0, len(units), 2)]
    choices.append(b"".join(rb"\\u" + _hex(pair) for pair in pairs))
    code = ord(char)
    choices.append(rb"\\U" + _hex(f"{code:08x}"))
    choices.append(b"&#0*%d;" % code)
    choices.append(b"&#x0*%b;" % _hex(f"{code:x}"))
    if char in _NAMED:
        choices.append(f"&{_NAMED[char]};".encode())
    return b"(?:" + b"|".join(choices) + b")"


def _hex(digits: str) -> bytes:
    """Hexadecimal digits in either case."""
    return "".join(f"[{digit}{digit.upper()}]" if digit.isalpha() else digit for digit in digits).encode()


_ESCAPED_SPACE = late_pattern(rb"(?:^|[^\\])(?:\\\\)*\\[nrtbfv]\Z")
_PERCENT = late_pattern(rb"%([0-9A-Fa-f]{2})\Z")


def _is_within_word(raw: bytes, start: int, end: int) -> bool:
    """Whether a letter or digit stands right before or right after."""
    return (start > 0 and _ends_in_letter(raw[max(0, start - 8) : start])) or (
        end < len(raw) and _starts_with_letter(raw[end : end + 4])
    )


def _ends_in_letter(before: bytes) -> bool:
    last = before[-1]
    if last >= 0x80:
        char = before.decode("utf-8", "ignore")[-1:]
        return char.isalnum() or unicodedata.category(char or " ") == "Mn"
    if not chr(last).isalnum():
        return False
    encoded = _PERCENT.search(before)
    if encoded is not None:
        code = int(encoded[1], 16)
        return code >= 0x80 or chr(code).isalnum()
    return _ESCAPED_SPACE.search(before) is None


def _starts_with_letter(after: bytes) -> bool:
    first = after[0]
    if first < 0x80:
        return chr(first).isalnum()
    char = after.decode("utf-8", "ignore")[:1]
    return char.isalnum() or unicodedata.category(char or " ") == "Mn"

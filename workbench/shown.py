"""Text from a card is data: `shown` makes what a terminal would obey visible instead."""

from __future__ import annotations

import unicodedata

_PICTURES = 0x2400
"""Unicode's control pictures: U+2400 + n stands for control character n."""


def shown(text: str) -> str:
    """The same text with control, format and unassigned characters as visible marks.

    Controls become their control picture, bytes that are no UTF-8 (kept by Python as lone surrogates)
    become `‹xx›`, and invisible or direction-changing characters become `‹U+202E›`.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(map(_mark, text))


def _mark(char: str) -> str:
    code = ord(char)
    if code < 0x20:
        return chr(_PICTURES + code)
    if code == 0x7F:
        return "\u2421"
    if 0xDC80 <= code <= 0xDCFF:
        return f"‹{code - 0xDC00:02x}›"
    if unicodedata.category(char) in ("Cc", "Cf", "Cs", "Cn", "Co", "Zl", "Zp"):
        return f"‹U+{code:04X}›"
    return char

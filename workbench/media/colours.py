"""Background colours, as a person writes them."""

from __future__ import annotations

import re

from workbench.errors import MediaError

Colour = tuple[int, int, int]
"""Red, green, blue, 0 to 255."""

NAMES: dict[str, Colour] = {
    "black": (0, 0, 0),
    "silver": (192, 192, 192),
    "gray": (128, 128, 128),
    "grey": (128, 128, 128),
    "white": (255, 255, 255),
    "maroon": (128, 0, 0),
    "red": (255, 0, 0),
    "purple": (128, 0, 128),
    "fuchsia": (255, 0, 255),
    "green": (0, 128, 0),
    "lime": (0, 255, 0),
    "olive": (128, 128, 0),
    "yellow": (255, 255, 0),
    "navy": (0, 0, 128),
    "blue": (0, 0, 255),
    "teal": (0, 128, 128),
    "aqua": (0, 255, 255),
}
"""The sixteen basic colour keywords of CSS (W3C, CSS Color Module), with both spellings of grey."""


def parse_colour(text: str) -> Colour:
    """`#rrggbb`, `#rgb`, the same without the sign, or a name.

    Raises:
        MediaError: none of these; the closest name is offered.
    """
    wish = text.strip().lower()
    if wish in NAMES:
        return NAMES[wish]
    digits = wish.removeprefix("#")
    if re.fullmatch(r"[0-9a-f]{3}", digits):
        digits = "".join(digit * 2 for digit in digits)
    if re.fullmatch(r"[0-9a-f]{6}", digits):
        return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16)
    import difflib

    close = difflib.get_close_matches(wish, NAMES, 1)
    hint = f"; did you mean {close[0]}?" if close else ""
    raise MediaError(f"{text!r} is no colour: write #rrggbb or one of {', '.join(NAMES)}{hint}")

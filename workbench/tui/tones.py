"""The few voices that a line of text can have on the screen, taken from the theme's own variables.

No tone carries meaning alone: whoever uses one also sets a glyph or a word.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from rich.color import Color as RichColor
from rich.style import Style
from textual.color import Color

Tone = Literal[
    "plain", "strong", "muted", "key", "place", "waiting", "problem", "good", "cursor", "idle", "taken"
]

_TOKENS: dict[Tone, tuple[str, str]] = {
    "muted": ("cw-muted", ""),
    "key": ("cw-key", ""),
    "place": ("cw-place", ""),
    "waiting": ("cw-waiting", ""),
    "problem": ("cw-problem", ""),
    "good": ("cw-good", ""),
    "cursor": ("cw-on-cursor", "cw-cursor"),
    "idle": ("cw-on-idle", "cw-idle"),
    "taken": ("cw-on-taken", "cw-taken"),
}
"""Tone → theme variables for the text and for what lies behind it (empty: the widget's own)."""

FALLBACKS: dict[str, str] = {
    "cw-muted": "ansi_default",
    "cw-key": "ansi_blue",
    "cw-place": "ansi_cyan",
    "cw-waiting": "ansi_magenta",
    "cw-problem": "ansi_red",
    "cw-good": "ansi_green",
    "cw-line": "ansi_bright_black",
    "cw-line-focus": "ansi_blue",
    "cw-bar": "ansi_default",
    "cw-on-cursor": "ansi_bright_white",
    "cw-cursor": "ansi_blue",
    "cw-on-idle": "ansi_bright_white",
    "cw-idle": "ansi_bright_black",
    "cw-on-taken": "ansi_black",
    "cw-taken": "ansi_yellow",
}
"""For themes that are not ours: the terminal's own sixteen colours."""


def tone_styles(variables: Mapping[str, str], *, no_color: bool = False) -> dict[Tone, Style]:
    """One style for each tone, from a theme's variables; without colour, cursors are told by reversing."""
    styles: dict[Tone, Style] = {"plain": Style(), "strong": Style(bold=True)}
    for tone, (text, behind) in _TOKENS.items():
        styles[tone] = Style(
            color=_rich(variables.get(text, FALLBACKS[text])),
            bgcolor=_rich(variables.get(behind, FALLBACKS[behind])) if behind else None,
            bold=tone in ("key", "cursor", "taken", "problem") or None,
            reverse=(no_color and tone in ("cursor", "taken")) or None,
        )
    return styles


def _rich(name: str) -> RichColor:
    return Color.parse(name).rich_color

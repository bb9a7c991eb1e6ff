"""Our two themes, and the terminal's own colours. Every colour of the workbench is a variable of one of them;
style sheets hold rules only.

Text has at least 4.5 : 1 against each ground it stands on (WCAG 2.2, SC 1.4.3); a test computes it.
"""

from __future__ import annotations

from dataclasses import replace

from textual.theme import BUILTIN_THEMES, Theme

DARK = Theme(
    name="cardwright-dark",
    primary="#7fb2d9",
    secondary="#9fc2a8",
    accent="#d9b779",
    warning="#e0b060",
    error="#f08a80",
    success="#8fce9b",
    foreground="#e6e2d8",
    background="#1b1d21",
    surface="#1b1d21",
    panel="#282b31",
    dark=True,
    variables={
        "cw-muted": "#a5a69f",
        "cw-key": "#9cc8ea",
        "cw-place": "#a9cdb4",
        "cw-waiting": "#e6c07a",
        "cw-problem": "#f59a8f",
        "cw-good": "#98d6a4",
        "cw-line": "#5a5f68",
        "cw-line-focus": "#7fb2d9",
        "cw-bar": "#282b31",
        "cw-on-cursor": "#ffffff",
        "cw-cursor": "#2f5575",
        "cw-on-idle": "#e6e2d8",
        "cw-idle": "#3a3e46",
        "cw-on-taken": "#1b1d21",
        "cw-taken": "#e6c07a",
        "scrollbar": "#5a5f68",
        "scrollbar-background": "#24272c",
        "input-cursor-background": "#e6e2d8",
        "input-cursor-foreground": "#1b1d21",
    },
)

LIGHT = Theme(
    name="cardwright-light",
    primary="#2b5f8a",
    secondary="#3d6b4a",
    accent="#7a5200",
    warning="#7a5200",
    error="#a1261b",
    success="#23663a",
    foreground="#24262b",
    background="#f6f3ec",
    surface="#f6f3ec",
    panel="#e7e2d6",
    dark=False,
    variables={
        "cw-muted": "#5b5d5a",
        "cw-key": "#1f5680",
        "cw-place": "#2c5c3b",
        "cw-waiting": "#7a4a00",
        "cw-problem": "#98221a",
        "cw-good": "#1f5c34",
        "cw-line": "#9a968b",
        "cw-line-focus": "#2b5f8a",
        "cw-bar": "#e7e2d6",
        "cw-on-cursor": "#ffffff",
        "cw-cursor": "#2b5f8a",
        "cw-on-idle": "#24262b",
        "cw-idle": "#d3cdbd",
        "cw-on-taken": "#24262b",
        "cw-taken": "#e8c06a",
        "scrollbar": "#9a968b",
        "scrollbar-background": "#e7e2d6",
        "input-cursor-background": "#24262b",
        "input-cursor-foreground": "#f6f3ec",
    },
)

TERMINAL = replace(BUILTIN_THEMES["ansi-dark"], name="cardwright-terminal")
"""The terminal's own sixteen colours on its own ground; also what is shown without any (NO_COLOR)."""

THEMES = (DARK, LIGHT, TERMINAL)

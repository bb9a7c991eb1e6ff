"""Our themes can be read: contrast by WCAG 2.2, success criterion 1.4.3."""

from __future__ import annotations

import pytest
from textual.color import Color
from textual.theme import Theme

from workbench.tui.themes import THEMES
from workbench.tui.tones import FALLBACKS

TEXTS = ("cw-muted", "cw-key", "cw-place", "cw-waiting", "cw-problem", "cw-good")


def luminance(color: Color) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    linear = [
        c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in (v / 255 for v in color.rgb)
    ]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(text: str, ground: str) -> float:
    brighter, darker = sorted((luminance(Color.parse(text)), luminance(Color.parse(ground))), reverse=True)
    return (brighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_standards_extremes() -> None:
    """Black on white is 21 : 1 (WCAG 2.2, definition of contrast ratio)."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21)


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_text_has_contrast_on_every_ground(theme: Theme) -> None:
    """At least 4.5 : 1 on the page and on the bars, for every tone; for the cursors on their own ground."""
    assert theme.background and theme.foreground
    for ground in (theme.background, theme.variables["cw-bar"]):
        for text in (theme.foreground, *(theme.variables[name] for name in TEXTS)):
            assert contrast(text, ground) >= 4.5, (text, ground)
    for name in ("cursor", "idle", "taken"):
        assert contrast(theme.variables[f"cw-on-{name}"], theme.variables[f"cw-{name}"]) >= 4.5, name


@pytest.mark.parametrize("theme", THEMES, ids=lambda theme: theme.name)
def test_a_theme_sets_every_token(theme: Theme) -> None:
    """None falls back on the terminal's colours by oversight."""
    assert set(FALLBACKS) <= set(theme.variables)

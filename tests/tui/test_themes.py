"""Our themes can be read: contrast by WCAG 2.2, success criterion 1.4.3."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from bench_app import labels_read, open_bench
from textual.color import Color
from textual.theme import Theme

from workbench.tui.themes import DARK, LIGHT, THEMES
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


@pytest.mark.parametrize("theme", (DARK, LIGHT), ids=lambda theme: theme.name)
def test_text_has_contrast_on_every_ground(theme: Theme) -> None:
    """At least 4.5 : 1 on the page and on the bars, for every tone; for the cursors on their own ground."""
    assert theme.background and theme.foreground
    for ground in (theme.background, theme.variables["cw-bar"]):
        for text in (theme.foreground, *(theme.variables[name] for name in TEXTS)):
            assert contrast(text, ground) >= 4.5, (text, ground)
    for name in ("cursor", "idle", "taken"):
        assert contrast(theme.variables[f"cw-on-{name}"], theme.variables[f"cw-{name}"]) >= 4.5, name


@pytest.mark.parametrize("theme", (DARK, LIGHT), ids=lambda theme: theme.name)
def test_a_theme_sets_every_token(theme: Theme) -> None:
    """None falls back on the terminal's colours by oversight."""
    assert set(FALLBACKS) <= set(theme.variables)


@pytest.mark.parametrize(("value", "colours"), [("1", False), ("0", False), ("", True)])
async def test_no_color_is_heeded(
    monkeypatch: pytest.MonkeyPatch, practice_card: Callable[[str], Path], value: str, colours: bool
) -> None:
    """Set and not empty: no colour at all, the cursor told by its sign and by reversing (no-color.org)."""
    monkeypatch.setenv("NO_COLOR", value)
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        strips = pilot.app.screen._compositor.render_strips()
        for one in pilot.app._filters:
            strips = [strip.apply_filter(one, Color(0, 0, 0)) for strip in strips] if one.enabled else strips
        styles = [segment.style for strip in strips for segment in strip if segment.style and segment.text]
        assert any(style.color and not style.color.is_default for style in styles) == colours
        assert colours or any(style.reverse for style in styles)


async def test_the_themes_are_gone_through_with_one_key(practice_card: Callable[[str], Path]) -> None:
    """Dark, light, the terminal's own, and dark again."""
    async with open_bench(practice_card("larkspur"), "larkspur").run_test(size=(80, 24)) as pilot:
        seen = [pilot.app.theme]
        for _ in range(3):
            await pilot.press("T")
            seen.append(pilot.app.theme)
    assert seen == [theme.name for theme in (*THEMES, DARK)]

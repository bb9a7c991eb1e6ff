"""Lines: cut in cells, hostile text shown and never obeyed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.style import Style

from workbench.tui.lines import Line, cut, strip_of, wrap
from workbench.tui.tones import FALLBACKS, tone_styles

TONES = tone_styles(FALLBACKS)


def drawn(line: Line, width: int) -> str:
    strip = strip_of(line, width, Style(), TONES)
    assert strip.cell_length == sum(segment.cell_length for segment in strip) == width
    return strip.text


@pytest.mark.parametrize(
    ("text", "width", "expected"),
    [
        ("Boats", 5, "Boats"),
        ("Boats", 4, "Boa…"),
        ("船船船", 5, "船船…"),
        ("船船船", 4, "船…"),
        ("Boats", 1, "…"),
        ("Boats", 0, ""),
    ],
)
def test_text_is_cut_in_cells(text: str, width: int, expected: str) -> None:
    """A wide character is never cut in half (widths by Unicode's East Asian Width, UAX #11)."""
    assert cut(text, width) == expected


def test_what_keeps_to_the_right_edge_stays_whole() -> None:
    """The left side gives way."""
    assert drawn(Line.of("a long name", right=["* moved"]), 15) == "a long… * moved"


@pytest.mark.parametrize(
    "text", ["\x1b[31mred", "a\x9b2J", "x\u202egnp", "[/]", "Game [USA]", "tab\tend", "\ud8ff"]
)
def test_hostile_text_is_shown_and_not_obeyed(text: str) -> None:
    """No control or direction character gets through; brackets stay as they are."""
    seen = drawn(Line.of(text), 40)
    assert not any(char < " " or char in "\x7f\x9b\u202e" for char in seen)
    assert ("[USA]" in seen) == ("[USA]" in text) and ("[/]" in seen) == ("[/]" in text)


@given(st.text(max_size=40), st.text(max_size=20), st.integers(0, 60))
def test_a_line_is_exactly_as_wide_as_asked(left: str, right: str, width: int) -> None:
    """Whatever the text."""
    drawn(Line.of((left, "muted"), "x", right=[right]) if right else Line.of(left), width)


@given(st.text(st.characters(codec="utf-8"), max_size=120), st.integers(4, 40))
def test_wrapping_loses_no_word(text: str, width: int) -> None:
    """All words come back in order; a line is too wide only where one word is."""
    from workbench.shown import shown

    lines = wrap(text, width)
    assert " ".join(lines).split() == shown(text).split()
    assert all(cell_len(line) <= width or " " not in line.strip(" ") for line in lines)

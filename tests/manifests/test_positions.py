"""Characters, bytes, lines and columns."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.manifests.positions import Positions, line_end, line_start, malformed

TEXT = st.text("aé😀\r\n \u2028", max_size=20)


@given(TEXT, st.data())
def test_bytes_and_lines(text: str, data: st.DataObject) -> None:
    """Byte offsets are those of UTF-8 and lines those of bytes.splitlines, asked in any order."""
    positions = Positions(text, 3)
    places = [i for i in range(len(text)) if text[i - 1 : i + 1] != "\r\n"]
    for index in data.draw(st.permutations(places)):
        assert positions.byte(index) == 3 + len(text[:index].encode())
        assert positions.line(index) == len((text[:index] + "x").encode().splitlines())


@pytest.mark.parametrize(
    ("index", "start", "end"), [(0, 0, 2), (2, 0, 2), (3, 0, 2), (4, 4, 4), (5, 5, 6), (6, 5, 6), (7, 7, 8)]
)
def test_line_bounds(index: int, start: int, end: int) -> None:
    """A line starts behind the last line ending and ends before the next; a CRLF is never split."""
    text = "ab\r\n\rc\nd"
    assert line_start(text, index) == start
    assert index == 3 or line_end(text, index) == end


def test_error_shows_the_line() -> None:
    """The error carries line, column and the line's text without its ending."""
    error = malformed("a.json", "x\r\nab cd\r\n", 6, "something is off")
    assert (error.line, error.column, error.text, error.path) == (2, 4, "ab cd", "a.json")

"""Lines of raw bytes: nothing is lost, whatever the bytes."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.errors import ManifestError
from workbench.manifests.byte_lines import LineTable, decode, encode, newline_of, skip_bom, split_lines


@given(st.binary(max_size=40).map(lambda raw: raw.replace(b"x", b"\r\n")))
def test_lines_cover_every_byte(raw: bytes) -> None:
    """One after the other, each with its ending, numbered from 1."""
    lines = split_lines(raw)
    assert b"".join(raw[line.start : line.stop] for line in lines) == raw[skip_bom(raw) :]
    table = LineTable(raw)
    assert [table.number(line.start) for line in lines] == list(range(1, len(lines) + 1))
    assert not any(b"\n" in raw[line.start : line.end] for line in lines)


@given(st.binary(max_size=20))
def test_bytes_come_out_as_they_went_in(raw: bytes) -> None:
    """UTF-8 or not."""
    assert encode(decode(raw)) == raw


@pytest.mark.parametrize(
    ("raw", "ending"), [(b"", b"\n"), (b"a\nb\r\n", b"\n"), (b"a\r\nb\n", b"\r\n"), (b"\n", b"\n")]
)
def test_the_first_line_ending_counts(raw: bytes, ending: bytes) -> None:
    """LF where there is none."""
    assert newline_of(raw) == ending


def test_half_a_character_is_refused() -> None:
    """A surrogate that stands for no byte."""
    with pytest.raises(ManifestError):
        encode("\ud800")

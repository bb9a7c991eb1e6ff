"""A late pattern does what the standard library's does."""

from __future__ import annotations

import re

import pytest

from workbench.late_pattern import late_pattern


def test_it_answers_as_the_standard_pattern() -> None:
    """Text and bytes, flags, every method, again and again."""
    late, real = late_pattern(r"(b+)", re.IGNORECASE), re.compile(r"(b+)", re.IGNORECASE)
    for _ in range(2):
        assert late.sub("x", "aBbc") == real.sub("x", "aBbc")
        assert late.findall("aBbcb") == real.findall("aBbcb")
        assert late.fullmatch("bb") and not late.fullmatch("bbc")
    assert (late.pattern, late.flags) == (real.pattern, real.flags)
    assert late_pattern(rb"\d").search(b"a1")


def test_a_malformed_source_is_found_out_at_first_use() -> None:
    """Not before: nothing is compiled when it is made."""
    broken = late_pattern("(")
    with pytest.raises(re.error):
        broken.search("")

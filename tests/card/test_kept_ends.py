"""A rename touches only what differs: what an old and a new name share keeps its bytes."""

from __future__ import annotations

from urllib.parse import unquote

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.path_text import percent_encode_like


@pytest.mark.parametrize(("old", "new", "written"), [
    ("%c3%a9t%C3%A9", "zz été", "zz%20%c3%a9t%C3%A9"),
    ("Boats%202", "Boats 3", "Boats%203"),
    ("Boats", ".Boats", ".Boats"),
    (".Boats", "Boats", "Boats"),
    ("a%2Fb", "a/b c", "a%2Fb%20c"),
])  # fmt: skip
def test_shared_ends_stay_as_they_are_written(old, new, written):
    """Percent-encoding in lower case, or where none is needed, is left alone at both ends."""
    assert percent_encode_like(new, old) == written


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"])), st.text("aé %/", min_size=1))
def test_what_is_written_reads_as_the_new_name(new, old):
    """The standard library's own decoding (RFC 3986) gives the new name, whatever the old one was."""
    like = old.replace("%", "%25").replace(" ", "%20").replace("é", "%c3%A9")
    assert unquote(percent_encode_like(new, like), errors="strict") == new

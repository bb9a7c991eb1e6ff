"""Words of a command against the standard library's own splitter of POSIX words."""

from __future__ import annotations

import re
import shlex
import subprocess

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from workbench.card.command_words import quote_part, split_command

TEXTS = st.text(st.sampled_from("ab /.'\"\\$é"), max_size=20)


@settings(deadline=None)
@given(TEXTS)
def test_split_as_shlex_does(command):
    """The same words as shlex finds (POSIX mode); it refuses an open quote, where ours ends the words."""
    try:
        wanted = shlex.split(command)
    except ValueError:
        return
    if not re.search(r"\\[$`]", command):  # shlex keeps this backslash in double quotes, a shell does not
        assert [word.text for word in split_command(command)] == wanted


@settings(deadline=None)
@given(st.text(st.characters(blacklist_categories=["Cs", "Cc", "Cn"]), min_size=1), st.sampled_from(" '\""))
def test_quoted_part_reads_back(text, quote):
    """What is written inside a quote reads back as the same text."""
    outer = quote.strip()
    words = list(split_command(f"x{outer}{quote_part(text, quote)}{outer}"))
    assert [word.text for word in words] == ["x" + text]


@pytest.mark.parametrize("quote", ["", "'", '"'])
@pytest.mark.parametrize("text", ["it's", 'a "b"', "$HOME `x`", "a\\b", "a b;c&d|e", "*?[x]", "~ # ! { }"])
def test_quoted_part_under_a_shell(text, quote):
    """The shell itself reads the text back (POSIX XCU 2.2)."""
    command = f"printf '%s\n' x{quote}{quote_part(text, quote or ' ')}{quote}"
    assert subprocess.run(["sh", "-c", command], capture_output=True, text=True).stdout == f"x{text}\n"


def test_places():
    """Each character knows where it stands, its backslash included."""
    word = list(split_command("run 'a b'\\ c"))[1]
    assert (word.text, word.quotes) == ("a b c", "'''  ")
    assert [("run 'a b'\\ c")[start:end] for start, end in zip(word.starts, word.ends, strict=True)] == [
        "a",
        " ",
        "b",
        "\\ ",
        "c",
    ]

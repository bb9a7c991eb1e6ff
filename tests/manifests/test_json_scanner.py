"""The scanner alone reads what the standard package reads, and refuses what it refuses, in its words."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.manifests.json_judge import judge_json
from workbench.manifests.json_scanner import read_document

FAULTS = [
    "",
    " ",
    "[1,",
    "{",
    '{"a"}',
    '{"a":1,}',
    "[1 2]",
    "nul",
    "[1]x",
    '"\t"',
    '"\\q"',
    '{"a" 1}',
    "{1:2}",
]
DATA = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(max_size=3), inner),
)


@given(DATA, st.sampled_from([None, 1]), st.booleans())
def test_it_reads_what_was_written(data, indent, ascii_only):
    """Whatever the package writes comes back."""
    text = json.dumps(data, indent=indent, ensure_ascii=ascii_only)
    assert read_document(f" {text}\n", float) == data


@pytest.mark.parametrize("text", FAULTS)
def test_faults_are_the_package_s_own(text):
    """The error of a malformed text is the one that the package raises."""
    with pytest.raises(json.JSONDecodeError) as theirs:
        json.loads(text)
    with pytest.raises(json.JSONDecodeError) as ours:
        read_document(text, float)
    assert str(ours.value) == str(theirs.value)


@pytest.mark.parametrize("text", FAULTS)
def test_faults_before_the_package_is_loaded(text):
    """A fresh interpreter, in which nobody has imported the package, says the same."""
    code = f"from workbench.manifests.json_scanner import read_document\nread_document({text!r}, float)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "json.decoder.JSONDecodeError: " in done.stderr.splitlines()[-1]


@given(st.lists(st.tuples(st.sampled_from(["a", "b", ":", '"', '\\":']), DATA), max_size=4), st.booleans())
def test_a_key_that_stands_twice(pairs, is_nested):
    """Duplicates are told as an `object_pairs_hook` tells them, whatever colons stand in texts."""
    text = ", ".join(f"{json.dumps(key)} : {json.dumps(value)}" for key, value in pairs)
    text = f"[1, {{{text}}}]" if is_nested else f"{{{text}}}"
    keys = [key for key, _ in pairs]
    assert judge_json(text.encode(), "").has_duplicates is (len(set(keys)) < len(keys))

"""Prefixes are recognised by form, replaced and never stacked."""

import os
import shutil
import subprocess

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.order.prefixes import choose_prefix, number_names, split_prefix


@pytest.mark.parametrize(
    ("name", "siblings", "split"),
    [
        ("05 Boats", [], ("05 ", "Boats")),
        ("aa Boats", [], ("aa ", "Boats")),  # common practice, no source
        ("zz_Boats", [], ("zz_", "Boats")),  # common practice, no source
        ("m3 Boats", [], ("m3 ", "Boats")),
        ("!5-Boats", [], ("!5-", "Boats")),
        ("M05 Boats", [], ("M05 ", "Boats")),
        ("F1 Racing", [], ("", "F1 Racing")),
        ("7 Wonders", ["Apple", "Zoo"], ("", "7 Wonders")),
        ("7 Wonders", ["1 Apple", "2 Zoo"], ("7 ", "Wonders")),
        ("a walk", [], ("", "a walk")),
        ("my tale", [], ("", "my tale")),
        ("05", [], ("", "05")),
        ("05 ", [], ("", "05 ")),
        ("Boats", [], ("", "Boats")),
        ("2048", [], ("", "2048")),
    ],
)
def test_a_prefix_is_told_from_a_word(name, siblings, split):
    """Only tokens of a form that no word has count; a bare number needs numbered siblings."""
    assert split_prefix(name, siblings=siblings) == split


@pytest.mark.parametrize("style", ["shortest", "letters", "numbers"])
def test_first_sorts_before_all(style):
    """The chosen prefix sorts strictly before the first name, in the order asked for."""
    prefix = choose_prefix("Boats", None, "apple", os.fsencode, style)
    assert prefix is not None
    assert os.fsencode(prefix + "Boats") < b"apple"


def test_a_place_between_capitals_needs_one_prefix():
    """In byte order capitals lie between digits and small letters."""
    prefix = choose_prefix("Boats", "Lanterns", "Moss", os.fsencode)
    assert prefix is not None
    assert "Lanterns" < prefix + "Boats" < "Moss"


names = st.text(alphabet=st.characters(min_codepoint=0x21, max_codepoint=0x17F), min_size=1, max_size=12)


@given(rest=names, pair=st.tuples(names, names))
def test_a_chosen_prefix_sorts_strictly_between(rest, pair):
    """Whatever is chosen lies between the neighbours and is recognised again."""
    low, high = sorted(pair, key=os.fsencode)
    prefix = choose_prefix(rest, low, high, os.fsencode)
    if prefix is not None:
        assert os.fsencode(low) < os.fsencode(prefix + rest) < os.fsencode(high)


@pytest.mark.skipif(not shutil.which("sort"), reason="needs sort(1)")
def test_numbered_names_sort_as_numbered():
    """`LC_ALL=C sort` (POSIX) gives back the order that was numbered, past 99 names too."""
    wanted = number_names([f"n{n % 7}" for n in range(130)])
    done = subprocess.run(
        ["sort"], input="\n".join(wanted).encode(), env={"LC_ALL": "C", "PATH": os.environ["PATH"]},
        capture_output=True, check=True,
    )  # fmt: skip
    assert done.stdout.decode().splitlines() == wanted

"""Which entry a name means: exact spelling, then case, then composed form, and never a guess."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.roster import Roster, fold_case

# The device rule of FAT and exFAT: exFAT 7.2.5.1 (up-casing) and 7.7 (case kept, never significant).
TABLE = [
    (["Boats", "boats"], "boats", ["boats"]),
    (["Boats", "boats"], "BOATS", ["Boats", "boats"]),
    (["Boats"], "bOATS", ["Boats"]),
    (["Straße"], "STRASSE", []),
    (["Éa"], "éA", ["Éa"]),
    (["e\u0301"], "\u00e9", ["e\u0301"]),
    (["e\u0301", "\u00e9"], "\u00e9", ["\u00e9"]),
    (["e\u0301", "\u00e9"], "\u00c9", ["\u00e9"]),
    (["\U00010428"], "\U00010400", []),
    ([""], "", []),
]


@pytest.mark.parametrize(("names", "text", "wanted"), TABLE)
def test_find(names, text, wanted):
    """The first way in which anything fits decides, and says all that fit."""
    assert Roster(((name, name) for name in names if name), "fat").find(text) == wanted


def test_exact_rule_knows_one_spelling():
    """A device that minds case finds nothing else."""
    assert Roster([("Boats", 1), ("e\u0301", 2)], "exact").find("boats") == []
    assert Roster([("Boats", 1), ("e\u0301", 2)], "exact").find("\u00e9") == []


@given(st.text(st.characters(max_codepoint=0x7F)))
def test_fold_is_ascii_upper_case(text):
    """Within ASCII folding is upper case (POSIX toupper)."""
    assert fold_case(text) == text.upper()

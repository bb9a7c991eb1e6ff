"""Names: FAT and exFAT rules against the specifications' tables, and what is suggested instead."""

from __future__ import annotations

import unicodedata
import warnings
from pathlib import PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.card.names import (
    check_free,
    check_name,
    count_units,
    find_collisions,
    find_fault,
    fold_name,
    suggest_name,
)
from workbench.errors import NameRefusedError

# exFAT specification 7.7.3, table 35 (shared by FAT long names): U+0000 to U+001F and these.
FORBIDDEN = [*map(chr, range(0x20)), *'"*/:<>?\\|']
# The same specification does not list these; FAT32 specification 1.03 allows them in long names.
ALLOWED = [*"+,;=[]!#$%&'()-@^_`{}~", "\x7f", "é", "語", "🎈"]


@pytest.mark.parametrize("char", FORBIDDEN)
def test_forbidden_characters_are_refused_with_a_legal_suggestion(char: str) -> None:
    """Every character of the specification's table is refused, wherever it stands."""
    with pytest.raises(NameRefusedError) as refused:
        check_name(f"Tin{char}Boat", "fat")
    assert refused.value.suggestion is not None
    check_name(refused.value.suggestion, "fat")


@pytest.mark.parametrize("char", ALLOWED)
def test_characters_outside_the_table_are_taken(char: str) -> None:
    """What the table does not list is legal in a long name."""
    check_name(f"Tin{char}Boat", "fat")


@pytest.mark.parametrize(
    "name",
    [
        "CON",
        "prn",
        "Aux",
        "NUL.txt",
        "nul.tar.gz",
        "COM1",
        "lpt9.log",
        "COM¹",
        "LPT²",
        "com³.x",
        "CONIN$",
        "conout$",
        "NUL .txt",
        "aux",
    ],
)
def test_names_reserved_on_windows_are_refused(name: str) -> None:
    """In any case, with a suffix or a superscript digit ("Naming Files, Paths, and Namespaces")."""
    with pytest.raises(NameRefusedError, match="reserved"):
        check_name(name, "fat")
    check_name(name, "exact")


@pytest.mark.parametrize(
    "name", ["CONSOLE", "COM", "COM10", "LPT", "auxiliary", "nulls.txt", "a.NUL", "COM1x"]
)
def test_names_that_only_resemble_reserved_ones_are_taken(name: str) -> None:
    """`COM10` or `nulls` are no devices."""
    check_name(name, "fat")


@given(st.text(st.sampled_from("CONPRAUXLTMIcom0123456789$. x"), min_size=1, max_size=9))
def test_reserved_names_agree_with_the_standard_library(name: str) -> None:
    """The same names as Python's own table of reserved names for Windows paths (pathlib, 3.11)."""
    name = name.strip(" .") or "x"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        reserved = PureWindowsPath(name).is_reserved()
    assert ("reserved" in (find_fault(name, "fat") or "")) == reserved


@pytest.mark.parametrize("name", ["", ".", "..", "x.", "x ", " x", "x. ", "...", "x..", "a/b", "a\0b"])
def test_names_that_fat_would_change_are_refused(name: str) -> None:
    """Trailing dots and spaces, leading spaces (FAT32 specification 1.03), and what names a folder."""
    with pytest.raises(NameRefusedError):
        check_name(name, "fat")


@pytest.mark.parametrize("name", [".keep", "x.y", "a b", "é", "a..b", "-x", "~"])
def test_harmless_names_are_taken_by_both_rules(name: str) -> None:
    """Inner dots and spaces, a leading dot and letters of any script are legal."""
    check_name(name, "fat")
    check_name(name, "exact")


@pytest.mark.parametrize("name", ["a:b", "what?", "x.", " x", "aux"])
def test_the_exact_rule_takes_what_only_fat_forbids(name: str) -> None:
    """A device with the exact rule is not held to FAT."""
    check_name(name, "exact")


@pytest.mark.parametrize(
    ("name", "units"),
    [("a" * 255, 255), ("é" * 255, 255), ("\U0001f388" * 127, 254), ("\U0001f388" * 128, 256)],
)
def test_length_counts_utf16_units(name: str, units: int) -> None:
    """255 UTF-16 units at most (exFAT 7.6.3): 127 characters above U+FFFF fit, 128 do not."""
    assert count_units(name) == units == len(name.encode("utf-16-le")) // 2
    if units <= 255:
        check_name(name, "fat")
    else:
        with pytest.raises(NameRefusedError, match="too long"):
            check_name(name, "fat")


def test_the_profiles_limit_holds_when_it_is_shorter() -> None:
    """A device that shows 12 characters gets no 13."""
    check_name("a" * 12, "fat", 12)
    with pytest.raises(NameRefusedError, match="at most 12") as refused:
        check_name("a lantern.tale", "fat", 12)
    assert refused.value.suggestion == "a lante.tale"


def test_bytes_that_are_no_text_are_refused() -> None:
    """A name with an undecodable byte cannot be written to FAT."""
    with pytest.raises(NameRefusedError, match="no text"):
        check_name("tin\udcffboat", "fat")


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("Boats", "BOATS", True),
        ("Évé", "ÉVÉ", True),
        ("caf\u00e9", "cafe\u0301", True),
        ("straße", "STRASSE", False),
        ("ﬁsh", "FISH", False),
        ("\U00010428", "\U00010400", False),  # exFAT 7.2.5.1: up-casing ends at U+FFFF
        ("Boats", "Boats2", False),
    ],
)
def test_two_names_are_one_to_fat(one: str, other: str, same: bool) -> None:
    """Up-casing character by character, composed and decomposed letters alike, no case folding."""
    assert (fold_name(one, "fat") == fold_name(other, "fat")) is same


def test_the_exact_rule_tells_cases_apart() -> None:
    """`exact` folds nothing but normalisation."""
    assert find_collisions("Boats", ["boats", "BOATS"], "exact") == ()
    assert find_collisions("caf\u00e9", ["cafe\u0301"], "exact") == ("cafe\u0301",)


def test_a_name_taken_in_another_case_is_refused_with_a_free_one() -> None:
    """A collision names the sibling and suggests a name that is free."""
    with pytest.raises(NameRefusedError, match="Tin Boat") as refused:
        check_free("tin boat", ["Tin Boat", "tin boat 2"], "fat")
    assert refused.value.suggestion == "tin boat 3"
    check_free("tin boat 3", ["Tin Boat", "tin boat 2"], "fat")


@given(
    st.text(max_size=300),
    st.integers(1, 255),
    st.sampled_from(["fat", "exact"]),
    st.lists(st.text(max_size=3)),
)
def test_a_suggestion_is_always_legal_and_free(name: str, limit: int, rule: str, taken: list[str]) -> None:
    """Whatever was asked for, what is suggested passes the same check."""
    siblings = [*taken, "1", "x"] if limit > 2 else []
    suggestion = suggest_name(name, rule, limit, siblings)  # type: ignore[arg-type]
    assert find_fault(suggestion, rule, limit) is None  # type: ignore[arg-type]
    assert not find_collisions(suggestion, siblings, rule)  # type: ignore[arg-type]


@given(st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=40))
def test_a_legal_name_is_its_own_suggestion(name: str) -> None:
    """Nothing is changed that need not be."""
    if find_fault(name, "fat") is None:
        assert suggest_name(name, "fat") == name


@given(st.text(max_size=30))
def test_folding_is_stable_and_blind_to_normalisation(name: str) -> None:
    """Folding twice is folding once; NFC and NFD forms fold alike."""
    folded = fold_name(name, "fat")
    assert fold_name(folded, "fat") == folded
    assert fold_name(unicodedata.normalize("NFD", name), "fat") == folded

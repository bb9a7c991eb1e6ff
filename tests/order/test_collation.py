"""Orders against `LC_ALL=C sort`, the C library's strcasecmp, and tables."""

from __future__ import annotations

import ctypes
import functools
import random
import shutil
import subprocess
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from workbench.order.collation import sort_key, sort_names

SET = ["Zoo", "apple", "_tools", "10-b", "2-a", "!x", "Apple", "~z", "A1", "a1", "[q]", " sp", "é"]

# Measured with GNU sort and dash's C library on this input order; common practice, no published table.
TABLE = {
    "bytes": [" sp", "!x", "10-b", "2-a", "A1", "Apple", "Zoo", "[q]", "_tools", "a1", "apple", "~z", "é"],
    "letters": [" sp", "!x", "10-b", "2-a", "[q]", "_tools", "A1", "a1", "apple", "Apple", "Zoo", "~z", "é"],
    "letters-up": [
        " sp",
        "!x",
        "10-b",
        "2-a",
        "A1",
        "a1",
        "apple",
        "Apple",
        "Zoo",
        "[q]",
        "_tools",
        "~z",
        "é",
    ],
}

# No slash and no NUL: POSIX file names (XBD 3.170); no newline, so that `sort` sees one name a line.
NAMES = st.text(st.characters(blacklist_characters="/\0\n", blacklist_categories=["Cs"]), min_size=1)


@pytest.mark.parametrize("order", TABLE)
def test_table(order):
    """The set that tells the orders apart comes out as measured, ties in their input order."""
    assert sort_names(SET, order) == TABLE[order]


def test_numbers_in_byte_order():
    """Byte order knows no numbers (common practice, computed by hand)."""
    assert sort_names(["1", "10", "2", "01"], "bytes") == ["01", "1", "10", "2"]


@pytest.mark.parametrize(
    ("order", "wanted"),
    [
        ("bytes", ["a b", "a-b", "a.b", "aB", "a_b", "ab"]),
        ("letters", ["a b", "a-b", "a.b", "a_b", "aB", "ab"]),
    ],
)
def test_separators(order, wanted):
    """Separators and case (ASCII table, RFC 20; strcasecmp folds down: POSIX strcasecmp)."""
    assert sort_names(["a_b", "aB", "ab", "a-b", "a b", "a.b"], order) == wanted


def test_natural_table():
    """Digit runs count by value, letters without case, then raw text: a rule of our own, no source."""
    wanted = ["File1", "file", "file1a", "file002", "file02", "file2", "file10"]
    assert sort_names(random.Random(3).sample(wanted, len(wanted)), "natural") == wanted


def test_directory_is_left_alone():
    """The folder's own listing is the order."""
    assert sort_names(["b", "a", "c"], "directory") == ["b", "a", "c"]


@pytest.mark.skipif(shutil.which("sort") is None, reason="needs sort")
def test_bytes_as_sort_does():
    """`bytes` is the C locale of `sort` (POSIX sort, strcoll(3))."""
    picks = random.Random(7)
    letters = "aAbZ09 _-.[]~é😀\ue000ß"
    names = list({"".join(picks.choices(letters, k=picks.randint(1, 6))) for _ in range(500)})
    text = "".join(f"{name}\n" for name in names).encode()
    done = subprocess.run(["sort"], input=text, env={"LC_ALL": "C"}, capture_output=True, check=True)
    assert sort_names(names, "bytes") == done.stdout.decode().splitlines()


def _compare_letters(one: str, other: str) -> int:
    # POSIX strcasecmp in a C locale of its own: bytes above 127 have no case there.
    return _LIBC.strcasecmp_l(one.encode(), other.encode(), _C_LOCALE)


if not sys.platform.startswith("linux"):
    pytest.skip("the C library is asked through glibc's names", allow_module_level=True)
_LIBC = ctypes.CDLL(None)
_LIBC.newlocale.restype = ctypes.c_void_p
_LIBC.newlocale.argtypes = [ctypes.c_int, ctypes.c_char_p, ctypes.c_void_p]
_LIBC.strcasecmp_l.argtypes = [ctypes.c_char_p, ctypes.c_char_p, ctypes.c_void_p]
_LC_ALL_MASK = 0x1FBF  # glibc's locale.h
_C_LOCALE = _LIBC.newlocale(_LC_ALL_MASK, b"C", None)


@given(st.lists(NAMES, max_size=12))
def test_letters_as_the_c_library_does(names):
    """`letters` is strcasecmp of the POSIX locale."""
    assert sort_names(names, "letters") == sorted(names, key=functools.cmp_to_key(_compare_letters))


@given(NAMES, NAMES)
def test_natural_is_total(one, other):
    """Two different names never tie in natural order."""
    key = sort_key("natural")
    assert (key(one) == key(other)) == (one == other)


def test_names_that_are_no_text():
    """Bytes that are no UTF-8 sort by their byte."""
    assert sort_names(["\udcff", "é", "z"], "bytes") == ["z", "é", "\udcff"]

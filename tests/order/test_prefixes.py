"""Prefixes are recognised by form, replaced and never stacked."""

import os
import shutil
import subprocess

import pytest

from workbench.order.prefixes import list_pools, number_names, numbered_width, split_prefix


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
@pytest.mark.parametrize("separator", [" ", "-", "_", "."])
def test_every_token_is_known_again(style, separator):
    """What a style puts in front of a name is split off again; bare numbers among their like."""
    for token in dict.fromkeys(token for pool in list_pools(style) for token in pool):
        siblings = [f"{width}{separator}x" for width in (100, 101)]
        assert split_prefix(f"{token}{separator}Boats", siblings=siblings) == (token + separator, "Boats")


def test_a_menu_is_numbered_where_three_names_are():
    """The width of most numbers counts; one name that starts with a number says nothing."""
    assert numbered_width(["010 A", "020 B", "030 C", "7 D"], " ") == 3
    assert numbered_width(["7 Wonders", "Apple"], " ") is None


@pytest.mark.skipif(not shutil.which("sort"), reason="needs sort(1)")
def test_numbered_names_sort_as_numbered():
    """`LC_ALL=C sort` (POSIX) gives back the order that was numbered, past 99 names too."""
    wanted = number_names([f"n{n % 7}" for n in range(130)])
    done = subprocess.run(
        ["sort"], input="\n".join(wanted).encode(), env={"LC_ALL": "C", "PATH": os.environ["PATH"]},
        capture_output=True, check=True,
    )  # fmt: skip
    assert done.stdout.decode().splitlines() == wanted


@pytest.mark.parametrize("count", [1, 99, 100, 999, 1000, 3000])
def test_every_number_is_known_as_a_prefix_again(count):
    """However long the menu is, its numbers can be replaced later; they rise and have one width."""
    names = number_names([f"n{n}" for n in range(count)])
    assert names == sorted(names)
    assert len({name.index(" ") for name in names}) == 1
    for name in (names[0], names[-1]):
        assert split_prefix(name, siblings=names[:3] + names[-3:])[1] == "n" + name.rpartition("n")[2]

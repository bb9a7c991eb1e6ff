"""A card in a layout of its own, where every format names every entry, read back by outside readers."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import gathered_card as gathered
import pytest

from workbench.cli.main import main

NAMES = (
    "[x]",
    "{entry}",
    "%20",
    "a%20b",
    "$HOME",
    "$(id)",
    "~",
    "#1",
    "a=b",
    "a;b",
    "--yes",
    "it's",
    "&#65;",
    "x.tar.gz",
    "007",
    "true",
    "e\u0301te\u0301",
    "😀" * 40,
    "İ",
    "a\u2028b",
    "a\u00a0b",
    "x" * 190,
    "a'b`c d",
)
"""What a glob, a regular expression, a shell, a URL, JSON, TOML, XML or argparse could take for its own."""

EXACT_NAMES = ('"q"', "a\\b", "c: d", "<b>", "a*b?", "a|b")
"""Legal where the device's names are exact."""


def _rename(profile: Path, old: str, new: str) -> dict[str, list[str]]:
    """The card's references after the rename, which has to be carried out."""
    card = profile.parent / "card"
    assert main(["rename", str(card), "--profile", str(profile), "--yes", "--", f"things:{old}", new]) == 0
    for place in (f"{gathered.ROOT}/{new}/run", f"pix/small-{new}_x.PNG", f"beside/{new}.sav"):
        assert (card / place).is_file(), place
    return gathered.read(card)


def _undo(profile: Path) -> None:
    assert main(["undo", str(profile.parent / "card"), "--profile", str(profile), "--yes"]) == 0


@pytest.mark.parametrize(
    ("rule", "name"), [("fat", name) for name in NAMES] + [("exact", name) for name in EXACT_NAMES]
)
def test_any_name_can_be_given_and_left(rule, name, tmp_path, tree_bytes):
    """Renamed to it and back, every reader finds the entry; undone, all is as it was."""
    profile = gathered.build(tmp_path, ["Boats", "Boats 2", "SpeedBoats", "boats.x"], rule)
    start, before = tree_bytes(tmp_path / "card"), gathered.read(tmp_path / "card")
    there = _rename(profile, "Boats", name)
    assert there == {kind: [name if one == "Boats" else one for one in all_] for kind, all_ in before.items()}
    back = _rename(profile, name, "Boats")
    assert back == before
    _undo(profile)
    assert gathered.read(tmp_path / "card") == there
    _undo(profile)
    assert tree_bytes(tmp_path / "card") == start


@pytest.mark.parametrize("name", NAMES)
def test_any_name_can_be_there(name, tmp_path):
    """A card that came with such a name, and with longer ones that hold it."""
    longer = [name[:100] + "2", "Z" + name[:100]]
    profile = gathered.build(tmp_path, [name, "Other", *longer])
    before = gathered.read(tmp_path / "card")
    after = _rename(profile, name, "New name")
    assert after == {
        kind: ["New name" if one == name else one for one in all_] for kind, all_ in before.items()
    }


def test_two_entries_swap_names_through_a_third(tmp_path):
    """A ↔ B; the manifests follow each step."""
    profile = gathered.build(tmp_path, ["A [1]", "B & C", "b & c 2"])
    before = gathered.read(tmp_path / "card")
    for old, new in (("A [1]", "between"), ("B & C", "A [1]"), ("between", "B & C")):
        after = _rename(profile, old, new)
    swapped = {"A [1]": "B & C", "B & C": "A [1]"}
    assert after == {kind: [swapped.get(one, one) for one in all_] for kind, all_ in before.items()}


def test_a_long_name_that_almost_stands_takes_no_time():
    """Entries of one long beginning, in a file with escapes: no letter is tried in two ways."""
    code = (
        "from workbench.card.needle import Needle\n"
        "needle = Needle('The long tale, part ' * 8 + '1', 'fat')\n"
        "raw = b'\\\\u0041' + b'The long tale, part ' * 8 + b'2'\n"
        "print([*needle.find_words(raw, 'json')], needle.could_stand_alone(raw, 'json'),"
        " needle.could_name(raw, 'shell'))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, check=True, timeout=60)
    assert done.stdout.split() == [b"[]", b"False", b"False"]

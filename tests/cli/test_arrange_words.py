"""`arrange` from the command line: what its words mean, what is refused, and that nothing is written then."""

from __future__ import annotations

import io
import os
import sys

import practice_cards
import pytest

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))


def names(cardwright, card):
    return [one["name"] for one in cardwright("menu", card, "--json", *PROFILE).json["menus"][0]["entries"]]


@pytest.fixture
def card(practice_card):
    return practice_card("larkspur")


def renames(answer):
    """Present name → new name of what the plan moves in the menu's folder."""
    moves = [step for step in answer.json["plan"]["steps"] if step["step"] == "move"]
    pairs = [(step["path"].split("/"), step["to"].split("/")) for step in moves]
    return {old[1]: new[1] for old, new in pairs if len(old) == len(new) == 2 and old[0] == "shelf"}


@pytest.mark.parametrize("words", [("--first", "Moss", "Boats"), ("--last", "Moss", "Boats")])
def test_several_at_once_keep_the_order_given(cardwright, card, words):
    """They stand first, or last, one behind the other as they were named."""
    before = names(cardwright, card)
    answer = cardwright("arrange", card, *words, "--yes", "--json", *PROFILE)
    assert answer.code == 0 and answer.json["change"] == 1
    after = names(cardwright, card)
    two = after[:2] if words[0] == "--first" else after[-2:]
    assert [name.rpartition(" ")[2] for name in two] == ["Moss", "Boats"]
    assert cardwright("undo", card, "--yes", *PROFILE).code == 0
    assert names(cardwright, card) == before


def test_the_card_may_stand_behind_the_names(cardwright, card):
    """`--first E CARD` and `CARD --first E` are the same."""
    one = cardwright("arrange", "--first", "Boats", card, "--dry-run", "--json", *PROFILE)
    other = cardwright("arrange", card, "--dry-run", "--json", *PROFILE, "--first", "Boats")
    assert one.code == 0 and one.json == other.json


@pytest.mark.parametrize("source", ["file", "-"])
def test_a_whole_order_from_a_file_or_standard_input(cardwright, card, source, tmp_path, monkeypatch):
    """One name a line, CRLF and a byte order mark from another computer included."""
    wanted = list(reversed(names(cardwright, card)))
    raw = b"\xef\xbb\xbf" + "\r\n".join([*wanted, ""]).encode()
    place = "-" if source == "-" else str(tmp_path / "order.txt")
    if source == "-":
        monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(raw)))
    else:
        (tmp_path / "order.txt").write_bytes(raw)
    answer = cardwright("arrange", card, "--order-from", place, "--yes", "--json", *PROFILE)
    assert answer.code == 0, answer.err
    after = names(cardwright, card)
    new = renames(answer)
    assert after == [new.get(name, name) for name in wanted]
    assert all(name.endswith(old.split(" ", 1)[-1]) for old, name in new.items())


def test_every_fault_of_an_order_is_named(cardwright, card, tree_bytes):
    """Unknown, repeated and missing names, each by name; exit 1 and nothing written."""
    before = tree_bytes(card)
    some = [name for name in names(cardwright, card) if name != "Moss"]
    answer = cardwright("arrange", card, "--order", "Nobody", *some, some[0], "--yes", "--json", *PROFILE)
    assert answer.code == 1
    message = answer.json["error"]["message"]
    assert (
        "unknown: Nobody" in message and f"named twice: {some[0]}" in message and "missing: Moss" in message
    )
    assert tree_bytes(card) == before


def test_an_order_that_cannot_be_had_says_the_nearest(cardwright, card):
    """Two names as long as the device takes cannot change places: refused, with the order that can be had."""
    for letter in "YZ":
        (card / "data" / "shelf" / (letter * 64)).mkdir()
    before = names(cardwright, card)
    wanted = ["Z" * 64, "Y" * 64, *(name for name in before if name[:2] not in ("YY", "ZZ"))]
    answer = cardwright("arrange", card, "--order", *wanted, "--yes", "--json", *PROFILE)
    assert answer.code == 1 and names(cardwright, card) == before
    error = answer.json["error"]
    assert "64" in error["message"] and "nothing was changed" in error["message"]
    near = error["nearest"]
    assert sorted(near) == sorted(wanted) and near.index("Y" * 64) < near.index("Z" * 64)
    rest = [name for name in near if name[:2] not in ("YY", "ZZ")]
    assert rest == wanted[2:]


def test_all_numbered_and_all_stripped(cardwright, card):
    """Numbers of one width with gaps; stripped, every name is bare."""
    before = names(cardwright, card)
    assert cardwright("arrange", card, "--number", "--yes", *PROFILE).code == 0
    numbered = names(cardwright, card)
    assert [name.split(" ")[0] for name in numbered] == [
        f"{n:03d}" for n in range(10, 10 * len(before) + 1, 10)
    ]
    assert cardwright("arrange", card, "--strip", "--yes", *PROFILE).code == 0
    assert not [name for name in names(cardwright, card) if name[:1] == "0"]


def test_a_name_that_starts_with_a_sign(cardwright, card):
    """A name that looks like an option goes behind `--`, or behind `=`."""
    os.rename(card / "data" / "shelf" / "Boats 2", card / "data" / "shelf" / "-x")
    for words in (["--first", "--", "-x"], ["--first=-x"]):
        answer = cardwright("arrange", card, "--dry-run", "--json", *PROFILE, *words)
        assert answer.code == 0 and answer.json["plan"]["title"] == "Send -x first", answer.err


@pytest.mark.parametrize("words", [("--number",), ("--strip",)])
def test_a_card_of_several_menus_wants_one_named(cardwright, practice_card, words):
    """Exit 2 with the menus' ids; `--menu` says which."""
    card, profile = practice_card("fernway"), ("--profile", str(practice_cards.profile_path("fernway")))
    answer = cardwright("arrange", card, *words, "--dry-run", *profile)
    assert answer.code == 2 and "parlour/Puzzles" in answer.err
    assert cardwright("arrange", card, *words, "--dry-run", "--menu", "parlour/Puzzles", *profile).code == 0

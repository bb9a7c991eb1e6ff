"""The words of a command line: options anywhere, names that look like options, commands misspelt."""

from __future__ import annotations

import shlex
from pathlib import Path

import pytest

PICTURE = Path(__file__).parent.parent.parent / "fixtures" / "pictures" / "moon.png"


@pytest.mark.parametrize(
    "words",
    [
        ["rename", "--dry-run", "CARD", "Boats", "Sails"],
        ["rename", "CARD", "--dry-run", "Boats", "Sails"],
        ["rename", "CARD", "Boats", "--dry-run", "--", "-x"],
        ["arrange", "--first", "Boats", "CARD", "--dry-run"],
        ["splash", "CARD", "put", "--fit", "cover", str(PICTURE), "--dry-run"],
        ["splash", "CARD", "blank", "--moment", "charging", "--dry-run"],
        ["manifest", "CARD", "--dry-run", "data:house/register.json", "set", "/motion", "x"],
        ["manifest", "CARD", "data:house/register.json", "set", "--dry-run", "/motion", "-5"],
    ],
)
def test_options_stand_anywhere(words, practice_card, cardwright):
    """Before, between and after the words; after `--` everything is a word."""
    card = practice_card("larkspur")
    answer = cardwright(*(word.replace("CARD", str(card)) for word in words))
    assert (answer.code, answer.err) == (0, "")
    assert "Nothing was written." in answer.out


def test_restore_takes_its_number_after_options(practice_card, cardwright, tree_bytes):
    """`splash CARD restore --moment start 1`."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    cardwright("splash", card, "blank", "--yes")
    assert cardwright("splash", card, "restore", "--moment", "start", "1", "--yes").code == 0
    assert tree_bytes(card) == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["renam", "CARD", "Boats", "X"], "Did you mean rename?"),
        (["rename", "CARD", "-Boats", "X", "--yes"], "starts with '-' goes after '--'"),
        (["rename", "CARD", "Boats", "X", "Y", "--yes"], "unrecognized arguments: Y"),
        (["undo", "CARD", "abc", "--yes"], "'abc'"),
        (["recover", "CARD"], "--forward --back"),
        (["menu", "CARD", "--volume", "data"], "ROLE=PATH"),
        (["splash", "CARD", "blank", "--bits", "7", "--yes"], "8, 16, 24, 32"),
    ],
)
def test_wrong_words_are_usage(words, says, practice_card, cardwright):
    """Exit code 2 and a sentence that helps."""
    card = practice_card("larkspur")
    answer = cardwright(*(word.replace("CARD", str(card)) for word in words))
    assert answer.code == 2
    assert says in answer.err


def test_an_entry_may_be_called_like_an_option(practice_card, cardwright):
    """There and back again."""
    card = practice_card("larkspur")
    assert cardwright("rename", card, "Boats", "--yes", "--", "--json").code == 0
    assert (card / "data/shelf/--json").is_dir()
    assert cardwright("rename", "--yes", "--", card, "--json", "Boats").code == 0
    refused = cardwright("rename", "--yes", "--", card, "--json", "Boats")
    assert (refused.code, refused.out) == (1, "")


def test_the_command_that_is_offered_works(practice_card, cardwright):
    """A malformed manifest in the way: the message holds the very command that mends it, quoted."""
    card = practice_card("larkspur").rename(practice_card("fernway").parent / "my card's")
    register = card / "data/house/register.json"
    register.write_text(register.read_text().replace('"things": {', '"things" {', 1))
    refused = cardwright("rename", card, "Boats", "Sails", "--yes")
    assert refused.code == 1
    line = next(line for line in refused.out.splitlines() if line.startswith("To mend it: "))
    words = shlex.split(line.removeprefix("To mend it: "))
    assert words[0] == "cardwright"
    assert cardwright(*words[1:], "--yes").code == 0
    done = cardwright("rename", card, "Boats", "Sails", "--yes")
    assert done.code == 0
    back = shlex.split(done.out.splitlines()[-1].partition("with: ")[2])
    assert cardwright(*back[1:], "--yes").code == 0
    assert (card / "data/shelf/Boats").is_dir()


def test_another_kind_of_splash_on_request(practice_card, cardwright):
    """`--bits` and `--gzip` change what is written; the plan says so, and nothing waits in the cache."""
    card = practice_card("larkspur")
    answer = cardwright("splash", card, "blank", "--bits", "16", "--masks", "565", "--gzip", "--yes")
    assert answer.code == 0
    assert "16 bits 5-6-5, bottom-up, gzip" in answer.out
    assert (card / "system/greet/hello.bmp").read_bytes()[:2] == b"\x1f\x8b"
    assert cardwright("splash", card, "show", "--moment", "start").out.count("gzip") == 1

"""What bad input gets: a sentence, the right exit code, and nothing changed."""

from __future__ import annotations

import os

import pytest


@pytest.mark.parametrize(
    ("words", "code", "kind", "says"),
    [
        (["rename", "CARD", "Nowhere", "X", "--yes"], 1, "entry", "Nowhere"),
        (["rename", "CARD", "Boats", "a/b", "--yes"], 1, "name", "'/'|character /"),
        (["rename", "CARD", "Boats", "NUL", "--yes"], 1, "name", "reserved"),
        (["rename", "CARD", "Boats", "dot.", "--yes"], 1, "name", "dot"),
        (["rename", "CARD", "Boats", ".hidden", "--yes"], 1, "name", "hides"),
        (["rename", "CARD", "Boats", "x" * 256, "--yes"], 1, "name", "too long"),
        (["rename", "CARD", "Boats", "boats 2", "--yes"], 1, "name", "Boats 2"),
        (["rename", "CARD", "Boats", "Sails"], 2, "usage", "--yes"),
        (["rename", "CARD/none", "Boats", "Sails", "--yes"], 1, "card", "none"),
        (["rename", "CARD"], 2, "usage", "required"),
        (["undo", "CARD", "7", "--yes"], 1, None, "change 7 that can be read; nothing was changed"),
        (["splash", "CARD", "put", "CARD/data/read me.txt", "--yes"], 1, "media", "picture"),
        (["splash", "CARD", "put", "--yes"], 2, "usage", "picture"),
        (["manifest", "CARD", "none.json", "get", "", "--yes"], 1, "card", "none.json"),
        (["manifest", "CARD", "data:house/register.json", "get", "/none"], 1, "manifest", "none"),
        (["manifest", "CARD", "data:../x", "get", ""], 1, "card", "below a volume; nothing was changed"),
        (["manifest", "CARD", "data:", "get", ""], 1, "card", "cannot read the root of data: it is a folder"),
        (["manifest", "CARD", "data:house/register.json", "set", "/things", "--yes"], 2, "usage", "VALUE"),
        (["menu", "CARD", "--profile", "CARD/data/read me.txt"], 1, "profile", "read me.txt"),
    ],
)
def test_bad_input_gets_a_sentence(words, code, kind, says, practice_card, cardwright, tree_bytes):
    """Kind, exit code and words of the refusal; the card stays as it was, the ledger too."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    answer = cardwright(*(word.replace("CARD", str(card)) for word in words), "--json")
    assert answer.code == code
    error = answer.json["error"]
    assert error.keys() >= {"kind", "message", "path", "line"}
    assert kind in (None, error["kind"])
    assert any(part in error["message"] for part in says.split("|")), error["message"]
    assert answer.err
    assert tree_bytes(card) == before
    assert not (card / "data/.cardwright").exists()


def test_what_is_in_the_way_is_placed_once(practice_card, cardwright):
    """A manifest's own error tells its file and line; the list of conflicts does not say them again."""
    card = practice_card("larkspur")
    (card / "data/house/register.json").write_text('{"things": {"Boats": }}')
    said = cardwright("rename", card, "Boats", "Sails", "--yes")
    told = next(line for line in said.out.splitlines() if "register.json" in line)
    assert (said.code, told.count("data:house/register.json, line 1")) == (1, 1)


def test_a_malformed_manifest_in_the_way_is_named_and_mended(practice_card, cardwright):
    """The rename is refused with file and line; after the mend it goes through."""
    card = practice_card("larkspur")
    register = card / "data/house/register.json"
    text = register.read_text()
    register.write_text(text.replace('"things": {', '"things" {', 1) if '"things": {' in text else text + "]")
    refused = cardwright("rename", card, "Boats", "Sails", "--yes", "--json")
    assert refused.code == 1
    assert refused.json["conflicts"][0]["path"] == "house/register.json"
    assert refused.json["conflicts"][0]["line"]
    assert "mend" in refused.json["error"]["message"]
    assert (card / "data/shelf/Boats").is_dir()


def test_escape_codes_in_names_are_shown_not_obeyed(practice_card, cardwright):
    """ESC and bidi overrides in a file name reach the terminal as visible marks."""
    card = practice_card("larkspur")
    os.mkdir(card / "data/shelf/ev\x1b[31mil\u202e")
    answer = cardwright("menu", card)
    assert answer.code == 0
    assert "\x1b" not in answer.out
    assert "\u202e" not in answer.out
    assert "ev␛[31mil" in answer.out


def test_a_link_out_of_the_volume_is_not_followed(practice_card, cardwright, tmp_path):
    """A manifest that is a link to the host's files is refused, not edited."""
    card = practice_card("larkspur")
    outside = tmp_path / "outside.json"
    register = card / "data/house/register.json"
    outside.write_bytes(register.read_bytes())
    register.unlink()
    register.symlink_to(outside)
    answer = cardwright("rename", card, "Boats", "Sails", "--yes", "--json")
    assert answer.code == 1
    assert "link" in answer.json["error"]["message"]
    assert b"Sails" not in outside.read_bytes()

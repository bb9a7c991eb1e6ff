"""`pack`: words, shapes, exit codes; a dry run writes nothing; without an answer nothing is written."""

from __future__ import annotations

import json
import zipfile

import pytest


@pytest.fixture
def card(practice_card):
    return practice_card("larkspur")


@pytest.fixture
def pack(tmp_path):
    with zipfile.ZipFile(tmp_path / "p.zip", "w") as made:
        made.writestr("shelf/Foghorn/begin", "#!/bin/sh\n")
        made.writestr("Thumbs.db", "x")
    return tmp_path / "p.zip"


def test_look_shows_each_part(card, pack, cardwright):
    """As JSON with standings; as words with the reason."""
    found = cardwright("pack", card, "look", pack, "--json")
    assert (found.code, found.json["name"], found.json["questions"]) == (0, "p", [])
    assert {part["path"]: part["standing"] for part in found.json["parts"]} == {
        "shelf/Foghorn/begin": "new",
        "Thumbs.db": "litter",
    }
    said = cardwright("pack", card, "look", pack)
    assert "new" in said.out
    assert "Windows' small pictures" in said.out


def test_add_list_remove(card, pack, cardwright, tree_bytes):
    """A dry run writes nothing; add, list and remove leave the card as it was."""
    before = tree_bytes(card)
    dry = cardwright("pack", card, "add", pack, "--dry-run", "--json")
    assert (dry.code, dry.json["change"], tree_bytes(card)) == (0, None, before)
    done = cardwright("pack", card, "add", pack, "--yes", "--json")
    assert (done.code, done.json["change"]) == (0, 1)
    assert done.json["pack"]["parts"]
    listed = cardwright("pack", card, "list", "--json").json["packs"]
    assert [(one["name"], one["change"]) for one in listed] == [("p", 1)]
    assert listed[0]["entries"] == [{"volume": "data", "path": "shelf/Foghorn"}]
    gone = cardwright("pack", card, "remove", "p", "--yes", "--json")
    assert (gone.code, tree_bytes(card)) == (0, before)
    assert cardwright("pack", card, "list").out == "No pack was added to this card.\n"


def test_an_edited_file_refuses_the_removal_unless_partial(card, pack, cardwright):
    cardwright("pack", card, "add", pack, "--yes")
    script = card / "data/shelf/Foghorn/begin"
    script.write_text("#!/bin/sh\n: mine\n")
    refused = cardwright("pack", card, "remove", "p", "--yes", "--json")
    assert refused.code == 1
    assert refused.json["conflicts"][0]["path"] == "shelf/Foghorn/begin"
    assert cardwright("pack", card, "remove", "p", "--yes", "--partial").code == 0
    assert script.read_text() == "#!/bin/sh\n: mine\n"


def test_a_clash_is_shown_and_decided(card, tmp_path, cardwright):
    """Exit 1 with the differing lines; `--mine`, `--theirs` and `--both` decide by path, glob or `all`."""
    with zipfile.ZipFile(tmp_path / "p.zip", "w") as made:
        made.writestr("house/register.json", '{"theirs": 1}\n')
        made.writestr("shelf/Foghorn/begin", "#!/bin/sh\n")
    before = (card / "data/house/register.json").read_bytes()
    asked = cardwright("pack", card, "add", tmp_path / "p.zip", "--yes")
    assert asked.code == 1
    assert '+{"theirs": 1}' in asked.out
    assert (card / "data/house/register.json").read_bytes() == before
    done = cardwright("pack", card, "add", tmp_path / "p.zip", "--yes", "--both", "house/*", "--json")
    assert done.code == 0
    beside = json.loads((card / "data/house/register (p).json").read_text())
    assert beside == {"theirs": 1}


def test_a_question_is_answered_with_into(card, tmp_path, cardwright):
    with zipfile.ZipFile(tmp_path / "p.zip", "w") as made:
        made.writestr("Foghorn/begin", "#!/bin/sh\n")
    asked = cardwright("pack", card, "add", tmp_path / "p.zip", "--yes")
    assert (asked.code, "--into Foghorn=PLACE" in asked.err) == (1, True)
    for words in (("--into", "data:shelf"), ("--into", "Foghorn=data:shelf")):
        found = cardwright("pack", card, "look", tmp_path / "p.zip", "--json", *words).json
        assert [(part["volume"], part["to"]) for part in found["parts"]] == [("data", "shelf/Foghorn/begin")]
    wrong = cardwright("pack", card, "look", tmp_path / "p.zip", "--into", "nowhere:x")
    assert wrong.code == 2


def test_make_refuses_the_card_itself_and_what_is_there(card, tmp_path, cardwright, tree_bytes):
    """Nothing is written onto the card, nor over a file unasked; a dry run says what would go in."""
    before = tree_bytes(card)
    words = ("pack", card, "make")
    on_card = cardwright(*words, card / "data/mine.zip", "--entry", "Boats")
    assert (on_card.code, "on the card itself" in on_card.err) == (1, True)
    dry = cardwright(*words, tmp_path / "mine.zip", "--entry", "Boats", "--dry-run", "--json")
    assert (dry.code, dry.json["sha256"], (tmp_path / "mine.zip").exists()) == (0, None, False)
    assert cardwright(*words, tmp_path / "mine.zip", "--entry", "Boats").code == 0
    first = (tmp_path / "mine.zip").read_bytes()
    assert cardwright(*words, tmp_path / "mine.zip", "--entry", "Boats").code == 2
    assert cardwright(*words, tmp_path / "mine.zip", "--entry", "Boats", "--replace").code == 0
    assert (tmp_path / "mine.zip").read_bytes() == first
    assert tree_bytes(card) == before


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("look",), 2),
        (("add", "nowhere.zip", "--yes"), 1),
        (("add", "nowhere.zip"), 2),
        (("remove", "nothing", "--yes"), 1),
        (("make", "x.zip"), 1),
        (("look", "x.zip", "--limit", "much"), 2),
    ],
)
def test_exit_codes(words, code, card, cardwright, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    answer = cardwright("pack", card, *words)
    assert answer.code == code, answer.err
    assert answer.err.startswith("cardwright: ")

"""`--keep-on FOLDER` from the command line: offered by the refusal, said in the answer and in the history."""

from __future__ import annotations

import pytest

from workbench.changes.space import Room


@pytest.fixture
def full(monkeypatch):
    """A card with room for a new splash, but not for keeping the old one too."""

    def set_room(free=1_800_000):
        monkeypatch.setattr("workbench.changes.preflight.read_room", lambda _: Room(free, 4096))

    set_room()
    return set_room


def dress(cardwright, card, *words):
    return cardwright("splash", card, "put", card.parent / "picture.png", "--yes", *words)


@pytest.fixture
def card(practice_card):
    """A larkspur card, and a picture that does not pack well."""
    import os

    from PIL import Image

    made = practice_card("larkspur")
    Image.frombytes("RGB", (512, 384), os.urandom(512 * 384 * 3)).save(made.parent / "picture.png")
    return made


def test_the_refusal_names_the_option_and_the_option_helps(card, cardwright, full, tmp_path, tree_bytes):
    """JSON and sentences say where the copies are; undo finds them; without the folder it says so."""
    before = tree_bytes(card)
    refused = dress(cardwright, card)
    assert refused.code == 1 and "--keep-on FOLDER" in refused.err
    keep = tmp_path / "kept"
    done = dress(cardwright, card, "--keep-on", keep, "--json")
    assert done.code == 0 and done.json["kept_on"].startswith(str(keep))
    listed = cardwright("history", card, "--json").json["changes"]
    assert [one["kept_on"] for one in listed] == [done.json["kept_on"]] and listed[0]["bytes_kept"] == 0
    assert f"kept on the computer in {done.json['kept_on']};" in cardwright("history", card).out
    full(50_000_000)
    keep.rename(tmp_path / "moved")
    assert "which is not here" in cardwright("history", card).out
    gone = cardwright("undo", card, "--yes")
    assert gone.code == 1 and done.json["kept_on"] in gone.err
    assert cardwright("undo", card, "--yes", "--keep-on", tmp_path / "moved").code == 0
    assert tree_bytes(card) == before


@pytest.mark.usefixtures("full")
def test_a_folder_on_the_card_is_refused(card, cardwright):
    """With nothing written."""
    refused = dress(cardwright, card, "--keep-on", card / "data/kept")
    assert refused.code == 1 and "on the card itself" in refused.err
    assert not (card / "data/kept").exists() and not (card / "system/.cardwright").exists()


def test_the_answer_says_where_the_copies_are(card, cardwright, full, tmp_path):
    """For people: not on the card; and a kept splash is read from there."""
    done = dress(cardwright, card, "--keep-on", tmp_path / "kept")
    assert "on this computer, not on the card" in done.out
    full(50_000_000)
    assert cardwright("splash", card, "restore", "1", "--yes").code == 0

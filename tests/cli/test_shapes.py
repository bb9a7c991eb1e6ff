"""The JSON shapes and exit codes that scripts rely on, on the practice cards."""

from __future__ import annotations

import pytest


@pytest.mark.parametrize("device", ["larkspur", "fernway", "orrery"])
def test_menu_lists_entries_with_references(device, practice_card, cardwright):
    """Positions count from 1 and every reference has its four keys."""
    answer = cardwright("menu", practice_card(device), "--json")
    assert answer.code == 0
    menus = answer.json["menus"]
    assert sum(len(menu["entries"]) for menu in menus) >= 24
    for menu in menus:
        assert menu.keys() >= {"name", "order", "entries"}
        assert [entry["position"] for entry in menu["entries"]] == list(range(1, len(menu["entries"]) + 1))
    entries = [entry for menu in menus for entry in menu["entries"]]
    assert all(entry.keys() >= {"position", "name", "prefix", "label", "references"} for entry in entries)
    references = [reference for entry in entries for reference in entry["references"]]
    assert references
    assert all(reference.keys() >= {"volume", "path", "line", "kind"} for reference in references)


def test_a_writing_command_answers_with_its_plan(practice_card, cardwright):
    """`--dry-run --json` gives the plan and changes nothing; `--yes --json` gives the change's number."""
    card = practice_card("larkspur")
    dry = cardwright("rename", card, "Boats", "Sails", "--dry-run", "--json")
    assert dry.code == 0
    assert dry.json["change"] is None
    assert {step["step"] for step in dry.json["plan"]["steps"]} == {"write", "move"}
    assert all(step.keys() >= {"step", "volume", "path"} for step in dry.json["plan"]["steps"])
    assert all(mention.keys() >= {"volume", "path", "line", "text"} for mention in dry.json["unruled"])
    assert (card / "data/shelf/Boats").is_dir()
    done = cardwright("rename", card, "Boats", "Sails", "--yes", "--json")
    assert done.json["change"] == 1
    assert done.json["plan"] == dry.json["plan"]
    assert (card / "data/shelf/Sails").is_dir()


def test_history_and_undo(practice_card, cardwright, tree_bytes):
    """Two changes on two volumes have two numbers; undo takes the last one still in force back."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    cardwright("rename", card, "Boats", "Sails", "--yes")
    cardwright("splash", card, "blank", "--yes")
    history = cardwright("history", card, "--json").json["changes"]
    assert [change["number"] for change in history] == [1, 2]
    assert all(change.keys() >= {"number", "title", "time", "state", "bytes_kept"} for change in history)
    assert cardwright("undo", card, "--yes").code == 0
    assert cardwright("undo", card, "--yes").code == 0
    assert tree_bytes(card) == before
    third = cardwright("undo", card, "--yes", "--json")
    assert third.code == 1
    assert "no change" in third.json["error"]["message"]


def test_cards_shape(cardwright):
    """Whatever is mounted here, the shape holds."""
    answer = cardwright("cards", "--json")
    assert answer.code == 0
    for card in answer.json["cards"]:
        assert card.keys() >= {"name", "profile", "volumes"}
        wanted = {"role", "root", "filesystem", "free_bytes", "cluster_bytes", "read_only"}
        assert all(volume.keys() >= wanted for volume in card["volumes"])


def test_splash_kept_and_restored(practice_card, cardwright, tree_bytes):
    """A replaced splash is listed and comes back byte for byte."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    cardwright("splash", card, "blank", "--background", "#ff0000", "--yes")
    cardwright("splash", card, "blank", "--background", "#00ff00", "--yes")
    kept = cardwright("splash", card, "kept", "--json").json["kept"]
    assert [version["number"] for version in kept] == [1, 2]
    assert cardwright("splash", card, "restore", "1", "--yes").code == 0
    assert tree_bytes(card) == before


def test_manifest_get_set_insert_delete(practice_card, cardwright, tree_bytes):
    """What was set can be read; what was inserted can be deleted; undo brings the first bytes back."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    place = ("manifest", card, "data:house/register.json")
    assert cardwright(*place, "get", "/things/Boats/says", "--json").json["value"]
    assert cardwright(*place, "set", "/things/Boats/says", "A new label", "--yes").code == 0
    assert cardwright(*place, "get", "/things/Boats/says", "--json").json["value"] == "A new label"
    assert cardwright(*place, "insert", "/things/Boats/extra", "[1, 2]", "--yes").code == 0
    assert cardwright(*place, "get", "/things/Boats/extra", "--json").json["value"] == [1, 2]
    assert cardwright(*place, "delete", "/things/Boats/extra", "--yes").code == 0
    assert cardwright("undo", card, "3", "--yes").code == 0
    assert cardwright("undo", card, "2", "--yes").code == 0
    assert cardwright("undo", card, "1", "--yes").code == 0
    assert tree_bytes(card) == before


def test_undo_in_part_takes_back_what_is_not_in_conflict(practice_card, cardwright):
    """A renamed file that was replaced by hand is named as the conflict; `--partial` takes back the rest."""
    card = practice_card("larkspur")
    lately = card / "data/house/lately.txt"
    cardwright("rename", card, "Boats", "Sails", "--yes")
    lately.write_text("written anew by hand\n")
    refused = cardwright("undo", card, "1", "--yes", "--json")
    assert refused.code == 1
    assert "lately.txt" in refused.json["error"]["message"]
    part = cardwright("undo", card, "1", "--partial", "--yes", "--json")
    assert part.code == 0
    assert part.json["change"] == 2
    assert [conflict["path"] for conflict in part.json["conflicts"]] == ["house/lately.txt"]
    assert (card / "data/shelf/Boats").is_dir()
    assert lately.read_text() == "written anew by hand\n"


def test_two_changes_of_one_number_are_told_apart_by_id(practice_card, cardwright, tree_bytes, tmp_path):
    """Volumes that were used apart have a change 1 each: the refusal names their ids, an id undoes."""
    card = practice_card("larkspur")
    before = tree_bytes(card)
    away = tmp_path / "system"
    (card / "system").rename(away)
    assert cardwright("rename", card, "Boats", "Sails", "--yes").code == 0
    (card / "data").rename(tmp_path / "data")
    away.rename(card / "system")
    assert cardwright("splash", card, "blank", "--yes").code == 0
    (tmp_path / "data").rename(card / "data")
    ids = [change["id"] for change in cardwright("history", card, "--json").json["changes"]]
    refused = cardwright("undo", card, "1", "--yes", "--json")
    assert refused.code == 1
    assert all(change in refused.json["error"]["message"] for change in ids)
    assert [cardwright("undo", card, change, "--yes").code for change in ids] == [0, 0]
    assert tree_bytes(card) == before

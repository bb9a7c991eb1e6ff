"""`backup`: words, shapes, exit codes; nothing is written onto the card, nor over a file unasked."""

from __future__ import annotations

import pytest


@pytest.fixture
def card(practice_card):
    return practice_card("fernway")


def test_take_verify_compare_restore(card, tmp_path, cardwright, tree_bytes):
    """The whole life of a backup; the restore is a change and can be taken back."""
    target, before = tmp_path / "b.zip", tree_bytes(card)
    taken = cardwright("backup", card, "take", target, "--json")
    assert (taken.code, taken.json["scope"], taken.json["left_out"]) == (0, "named", [])
    assert taken.json["files"] > 50
    whole = cardwright("backup", card, "verify", target, "--json")
    assert (whole.code, whole.json["faults"], whole.json["files"]) == (0, [], taken.json["files"])
    assert cardwright("backup", card, "compare", target).out == "No difference.\n"
    (card / "main/settings/rooms.ini").write_text("spoiled")
    found = cardwright("backup", card, "compare", target, "--json").json["differences"]
    assert found == [{"path": "main/settings/rooms.ini", "kind": "content"}]
    dry = cardwright("backup", card, "restore", target, "--dry-run", "--json")
    assert [step["path"] for step in dry.json["plan"]["steps"]] == ["settings/rooms.ini"]
    assert cardwright("backup", card, "restore", target, "--yes").code == 0
    assert tree_bytes(card) == before
    assert cardwright("undo", card, "--yes").code == 0
    assert (card / "main/settings/rooms.ini").read_text() == "spoiled"
    only = cardwright("backup", card, "restore", target, "--only", "main:faces", "--yes", "--json")
    assert (only.code, only.json["plan"]["steps"]) == (0, [])


def test_a_damaged_backup_is_exit_1(card, tmp_path, cardwright):
    target = tmp_path / "b.zip"
    cardwright("backup", card, "take", target)
    raw = bytearray(target.read_bytes())
    raw[len(raw) // 2] ^= 1
    target.write_bytes(bytes(raw))
    said = cardwright("backup", "nowhere", "verify", target)
    assert said.code == 1
    assert "damaged" in said.out + said.err


def test_places_that_are_refused(card, tmp_path, cardwright, tree_bytes):
    """The card itself, a file that is there, a folder that is not."""
    before = tree_bytes(card)
    on_card = cardwright("backup", card, "take", card / "main/b.zip")
    assert (on_card.code, "on the card itself" in on_card.err) == (1, True)
    (tmp_path / "b.zip").write_bytes(b"mine")
    assert cardwright("backup", card, "take", tmp_path / "b.zip").code == 2
    assert (tmp_path / "b.zip").read_bytes() == b"mine"
    assert cardwright("backup", card, "take", tmp_path / "no/b.zip").code == 2
    assert cardwright("backup", card, "take", tmp_path / "b.zip", "--replace").code == 0
    assert tree_bytes(card) == before


def test_secrets_are_named_and_left_out(card, tmp_path, cardwright):
    (card / "main/memory/wifi-password.txt").write_text("hunter2")
    said = cardwright("backup", card, "take", tmp_path / "b.zip", "--all")
    assert "main/memory/wifi-password.txt has 'password' in its name" in said.out
    asked = cardwright("backup", card, "take", tmp_path / "c.zip", "--all", "--with-secrets", "--json")
    assert asked.json["left_out"] == []


@pytest.mark.parametrize("options", [("--all",), ("--all", "--with-secrets"), ("--all", "--with-media"), ()])
def test_a_dry_run_tells_what_the_backup_then_holds(card, options, tmp_path, cardwright):
    """What only shows when a file is looked into counts there too: secrets, and large media."""
    (card / "main/memory/net.conf").write_text("psk = hunter2\n")
    with (card / "main/film.bin").open("wb") as film:
        film.truncate(16 * 1024 * 1024 + 1)
    dry = cardwright("backup", card, "take", tmp_path / "b.zip", *options, "--dry-run", "--json").json
    taken = cardwright("backup", card, "take", tmp_path / "b.zip", *options, "--json").json
    assert len(dry["files"]) == taken["files"]
    assert [f"{one['volume']}/{one['path']}" for one in dry["left_out"]] == [
        one["path"] for one in taken["left_out"]
    ]


def test_as_if(card, cardwright):
    """What another card would cost, in words and as JSON."""
    found = cardwright("backup", card, "--as-if", "exfat:128K", "--json")
    assert found.code == 0
    assert found.json["as_if"] == {"filesystem": "exfat", "cluster_bytes": 131072, "size_bytes": None}
    volume = found.json["volumes"][0]
    assert volume["taken_then"] % 131072 == 0
    assert volume["taken_then"] >= volume["files"] * 131072 * 0.9
    assert "they would take" in cardwright("backup", card, "--as-if", "fat32:4K").out


@pytest.mark.parametrize(
    "words",
    [
        (),
        ("take",),
        ("verify", "a", "b"),
        ("--as-if", "ntfs"),
        ("take", "x.zip", "--as-if", "exfat"),
        ("restore", "x"),
    ],
)
def test_usage(words, card, cardwright):
    answer = cardwright("backup", card, *words)
    assert answer.code == 2
    assert answer.err.startswith("cardwright: ")

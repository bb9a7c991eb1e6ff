"""Looking into packs, adding and removing them, on all practice cards; the devices' own readers judge."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import zipfile
from pathlib import Path

import pytest
from pack_card import PackCard, make_zip
from practice_cards import tree_bytes

from workbench.card.menu import locate_entry, read_menus
from workbench.card.paths import VolumePath
from workbench.changes.apply import apply
from workbench.changes.brought import read_traces
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError, LedgerError
from workbench.jobs.entry import plan_remove
from workbench.jobs.packs.adding import diff_part, drop_contents, plan_add_pack
from workbench.jobs.packs.making import PackWish, draft_pack, write_pack
from workbench.jobs.rename import plan_rename


@pytest.fixture
def card(tmp_path):
    return PackCard("larkspur", tmp_path / "card")


def standings(look):
    return {part.path: part.standing for part in look.parts}


def test_each_part_says_what_it_would_meet(card, tmp_path):
    """New, the same, changed, a clash with a manifest, litter, a text about the pack."""
    tale = (card.folder / "data/shelf/Boats/tale.txt").read_bytes()
    source = make_zip(
        tmp_path / "p.zip",
        {
            "README.txt": b"about",
            "shelf/New/begin": b"#!/bin/sh\n",
            "shelf/Boats/tale.txt": tale,
            "greet/hello.bmp": b"BM other",
            "house/register.json": b"{}",
            "shelf/New/._begin": b"\0\5\x16\7\0\2\0\0",
            "shelf/New/.DS_Store": b"x",
            "__MACOSX/shelf/._New": b"x",
            "shelf/New/._keep": b"no magic and no twin",
        },
    )
    look = card.look(source)
    assert standings(look) == {
        "README.txt": "about",
        "shelf/New/begin": "new",
        "shelf/Boats/tale.txt": "same",
        "greet/hello.bmp": "changed",
        "house/register.json": "clash",
        "shelf/New/._begin": "litter",
        "shelf/New/.DS_Store": "litter",
        "__MACOSX/shelf/._New": "litter",
        "shelf/New/._keep": "new",
    }
    places = {part.path: str(part.at) for part in look.parts if part.at}
    assert places["greet/hello.bmp"] == "system:greet/hello.bmp"
    assert places["shelf/New/begin"] == "data:shelf/New/begin"


LAYOUTS = {
    "plain": "{path}",
    "wrapped": "Cool Pack 1.2/{path}",
    "wrapped twice": "download/Cool Pack/{path}",
    "by role": "{role}/{path}",
    "by role, wrapped": "pack/{role}/{path}",
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_volumes_are_found_by_top_folders(layout, card, tmp_path):
    """By what the profile and the card know; a folder around it all is taken off."""
    files = {("data", "shelf/New/begin"): b"#!/bin/sh\n", ("system", "greet/fill.bmp"): b"BM"}
    names = {LAYOUTS[layout].format(role=role, path=path): raw for (role, path), raw in files.items()}
    look = card.look(make_zip(tmp_path / "p.zip", names))
    assert not look.questions
    assert sorted(str(part.at) for part in look.parts) == ["data:shelf/New/begin", "system:greet/fill.bmp"]


def test_what_is_not_plain_is_asked_and_the_answer_heeded(card, tmp_path):
    """An entry's folder alone could go anywhere: the menu is among the choices, and no step is planned."""
    source = make_zip(tmp_path / "p.zip", {"New Tale/begin": b"#!/bin/sh\n"})
    question = card.look(source).questions[0]
    assert (question.top, question.parts) == ("New Tale", 1)
    assert VolumePath("data", "shelf") in question.choices
    with pytest.raises(CardwrightError, match="--into"):
        card.plan(source)
    look = card.look(source, into={"New Tale": VolumePath("data", "shelf")})
    assert [str(part.at) for part in look.parts] == ["data:shelf/New Tale/begin"]


def test_an_entry_is_registered_and_shown(card, tmp_path):
    """Larkspur's own reader lists it, with a command that resolves; `json` reads the row."""
    source = make_zip(
        tmp_path / "p.zip",
        {
            "shelf/Foghorn/begin": b"#!/bin/sh\nexec leaf tale.txt\n",
            "shelf/Foghorn/tale.txt": b"x",
            "house/small/Foghorn_s.png": (card.folder / "data/house/small/Boats_s.png").read_bytes(),
        },
    )
    before = tree_bytes(card.folder)
    card.add(source)
    seen = card.seen()
    assert "Foghorn" in card.names()
    assert seen["problems"] == []
    entry = next(one for one in seen["menus"][0]["entries"] if one["name"] == "Foghorn")
    assert entry["label"] == "Foghorn"
    assert '"Foghorn"' in (card.folder / "data/house/register.json").read_text("utf-8")
    assert card.removal("p").conflicts == ()
    card.remove("p")
    assert tree_bytes(card.folder) == before


@pytest.mark.parametrize("device", ["larkspur", "orrery"])
def test_two_entries_that_share_manifests_are_registered_and_taken_out(device, tmp_path):
    """Each entry's rows stand in the same manifests, which were written once for each of them."""
    card = PackCard(device, tmp_path / "card")
    before = tree_bytes(card.folder)
    root = {"larkspur": "shelf", "orrery": "sky"}[device]
    parts = {f"{root}/{name}/begin": b"#!/bin/sh\n" for name in ("Gull, Tern", "Reed; Rush")}
    card.add(make_zip(tmp_path / "p.zip", parts))
    assert {"Gull, Tern", "Reed; Rush"} <= set(card.names())
    card.remove("p")
    assert tree_bytes(card.folder) == before


@pytest.mark.parametrize(
    ("device", "name"),
    [("larkspur", "Boats"), ("fernway", "parlour/Puzzles:Boats.game"), ("orrery", "HoneyMoon")],
)
def test_made_on_one_card_and_added_to_another(device, name, tmp_path):
    """An entry with its pictures goes to a card that lacks it; the reader sees the same of it there."""
    one, other = PackCard(device, tmp_path / "one"), PackCard(device, tmp_path / "other")
    menu, entry = locate_entry(one.tree, one.profile, name)
    menus = read_menus(one.tree, one.profile)
    menu, entry = next((m, e) for m in menus for e in m.entries if e.at == entry.at)
    draft = draft_pack(one.tree, one.profile, PackWish(entries=((menu, entry),)))
    write_pack(one.tree, draft, tmp_path / "p.zip", name="One entry", author="A", licence="CC0-1.0")
    apply(other.card, plan_remove(other.tree, other.profile, menu, entry))
    bare = tree_bytes(other.folder)
    other.add(tmp_path / "p.zip")
    find = lambda card: next(  # noqa: E731
        e
        for m in card.seen()["menus"]
        for e in m["entries"]
        if e["name"] == entry.name and m["id"] == menu.id
    )
    assert find(other)["label"] == find(one)["label"]
    assert find(other).get("icon") == find(one).get("icon")
    assert other.seen()["problems"] == one.seen()["problems"]
    other.remove("One entry")
    assert tree_bytes(other.folder) == bare


def test_a_pack_is_the_same_bytes_each_time(card, tmp_path):
    """Whatever the card's clock, modes and order say: made twice, from two copies with other times."""
    again = PackCard("larkspur", tmp_path / "again")
    for file in again.folder.rglob("*"):
        if file.is_file():
            os.utime(file, (0, 1_000_000_000))
    digests = []
    for one in (card, again):
        menus = read_menus(one.tree, one.profile)
        pairs = tuple((menus[0], entry) for entry in menus[0].entries[:5])
        draft = draft_pack(
            one.tree, one.profile, PackWish(entries=pairs, animations=("river",), moments=("all",))
        )
        digests.append(write_pack(one.tree, draft, tmp_path / f"{len(digests)}.zip", name="N"))
    assert digests[0] == digests[1]
    assert (tmp_path / "0.zip").read_bytes() == (tmp_path / "1.zip").read_bytes()
    with zipfile.ZipFile(tmp_path / "0.zip") as made:
        assert made.testzip() is None
        assert {one.date_time for one in made.infolist()} == {(1980, 1, 1, 0, 0, 0)}
        listed = json.loads(made.read("cardwright-pack.json"))["files"]
        names = [one for one in made.namelist() if one != "cardwright-pack.json"]
        assert names == sorted(names, key=str.encode)
        assert {name: hashlib.sha256(made.read(name)).hexdigest() for name in names} == listed
        assert not any("/keep/" in name for name in names)


def test_a_part_that_is_not_what_the_list_says_is_refused(card, tmp_path):
    source = make_zip(
        tmp_path / "p.zip",
        {
            "cardwright-pack.json": json.dumps(
                {
                    "schema": 1,
                    "name": "N",
                    "version": "",
                    "author": "",
                    "licence": "",
                    "profile": "Larkspur",
                    "entries": [],
                    "files": {"data/shelf/N/begin": "0" * 64},
                }
            ).encode(),
            "data/shelf/N/begin": b"x",
        },
    )
    with pytest.raises(CardwrightError, match="own list"):
        card.plan(source)


def test_a_pack_for_another_device_is_refused_unless_asked(card, tmp_path):
    other = PackCard("orrery", tmp_path / "orrery")
    draft = draft_pack(other.tree, other.profile, PackWish(moments=("start",)))
    write_pack(other.tree, draft, tmp_path / "p.zip", name="N")
    with pytest.raises(CardwrightError, match="Orrery"):
        card.plan(tmp_path / "p.zip")


def test_an_update_replaces_what_the_pack_put_there_and_asks_for_what_was_edited(card, tmp_path):
    """Version 2 over version 1: the untouched file changes, the edited one is a clash with its diff."""
    first = {"shelf/New/begin": b"#!/bin/sh\n:\n", "shelf/New/tale.txt": b"one\ntwo\n"}
    card.add(make_zip(tmp_path / "v1.zip", first))
    (card.folder / "data/shelf/New/tale.txt").write_bytes(b"one\nMINE\n")
    second = {"shelf/New/begin": b"#!/bin/sh\n: 2\n", "shelf/New/tale.txt": b"one\nTHEIRS\n"}
    source = make_zip(tmp_path / "v2.zip", second)
    look = card.look(source)
    assert standings(look) == {"shelf/New/begin": "changed", "shelf/New/tale.txt": "clash"}
    clash = look.of("clash")[0]
    assert "edited since" in clash.because
    diff = diff_part(card.tree, look, clash)
    assert "-MINE" in diff
    assert "+THEIRS" in diff
    plan = card.plan(source)
    assert [str(one.at) for one in plan.conflicts] == ["data:shelf/New/tale.txt"]
    assert not plan.steps


@pytest.mark.parametrize(
    ("decision", "tale", "beside"),
    [("mine", b"MINE", None), ("theirs", b"THEIRS", None), ("both", b"MINE", b"THEIRS")],
)
def test_a_clash_is_decided_per_file(decision, tale, beside, card, tmp_path):
    card.add(make_zip(tmp_path / "v1.zip", {"shelf/New/begin": b"#!/bin/sh\n", "shelf/New/tale.txt": b"1"}))
    (card.folder / "data/shelf/New/tale.txt").write_bytes(b"MINE")
    source = make_zip(
        tmp_path / "v2.zip", {"shelf/New/begin": b"#!/bin/sh\n:", "shelf/New/tale.txt": b"THEIRS"}
    )
    card.add(source, {"shelf/New/tale.txt": decision})
    assert (card.folder / "data/shelf/New/tale.txt").read_bytes() == tale
    second = card.folder / "data/shelf/New/tale (v2).txt"
    assert (second.read_bytes() if second.exists() else None) == beside
    card.remove("v2")
    assert (card.folder / "data/shelf/New/tale.txt").read_bytes() == b"MINE"
    assert not second.exists()


def test_a_renamed_entry_of_a_pack_is_still_taken_out(card, tmp_path):
    """After a rename by Cardwright, which edited its script and its row, nothing of the pack stays."""
    before = tree_bytes(card.folder)
    script = b'#!/bin/sh\nexec leaf "$STORE/shelf/Foghorn/tale.txt"\n'
    card.add(make_zip(tmp_path / "p.zip", {"shelf/Foghorn/begin": script, "shelf/Foghorn/tale.txt": b"x"}))
    menu, entry = locate_entry(card.tree, card.profile, "Foghorn")
    apply(card.card, plan_rename(card.tree, card.profile, menu, entry, "01 Foghorn"))
    assert "01 Foghorn" in card.names()
    plan = card.remove("p")
    assert plan.conflicts == ()
    assert tree_bytes(card.folder) == before


def test_an_edited_file_is_named_and_stays(card, tmp_path):
    """What a person changed by hand after the pack came is in the plan's conflicts, and nobody removes it."""
    card.add(make_zip(tmp_path / "p.zip", {"shelf/New/begin": b"#!/bin/sh\n", "shelf/New/tale.txt": b"x"}))
    (card.folder / "data/shelf/New/tale.txt").write_bytes(b"my own words")
    plan = card.remove("p")
    assert [str(one.at) for one in plan.conflicts] == ["data:shelf/New/tale.txt"]
    assert (card.folder / "data/shelf/New/tale.txt").read_bytes() == b"my own words"
    assert not (card.folder / "data/shelf/New/begin").exists()


def test_what_a_removed_pack_had_put_there_does_not_come_back(card, tmp_path):
    """A, then B over it, A out, B out: the first content of all is there again, not A's."""
    before = tree_bytes(card.folder)
    card.add(make_zip(tmp_path / "a.zip", {"greet/hello.bmp": b"BM A", "shelf/New/begin": b"A"}))
    card.add(make_zip(tmp_path / "b.zip", {"greet/hello.bmp": b"BM B", "shelf/New/begin": b"B"}))
    plan = card.remove("a")
    assert plan.conflicts == ()
    assert (card.folder / "system/greet/hello.bmp").read_bytes() == b"BM B"
    assert [one.pack.name for one in read_traces(card.card).packs] == ["b"]
    card.remove("b")
    assert tree_bytes(card.folder) == before


def test_the_record_goes_with_the_card(card, tmp_path, monkeypatch):
    """On another computer, with a state folder of its own, the pack is still known and can be removed."""
    before = tree_bytes(card.folder)
    card.add(make_zip(tmp_path / "p.zip", {"shelf/New/begin": b"#!/bin/sh\n"}))
    for kind in ("STATE", "CACHE", "CONFIG"):
        monkeypatch.setenv(f"CARDWRIGHT_{kind}", str(tmp_path / "elsewhere" / kind))
    moved = tmp_path / "moved"
    shutil.copytree(card.folder, moved, symlinks=True)
    card.folder = moved
    assert read_traces(card.card).packs[0].pack.name == "p"
    card.remove("p")
    assert tree_bytes(moved) == before
    apply(card.card, plan_undo(card.card, 2))
    assert read_traces(card.card).packs[0].pack.name == "p"


def test_a_pack_that_is_not_there_is_named(card):
    with pytest.raises(LedgerError, match="none"):
        card.removal("nothing")


def test_secrets_and_saves_stay_out_unless_asked(card):
    """Named with the reason; taken only if a person says so."""
    (card.folder / "data/shelf/Boats/wifi.conf").write_text("ssid=home\npsk=hunter2hunter2\n")
    (card.folder / "data/shelf/Boats/id_rsa").write_text("x")
    menu, entry = locate_entry(card.tree, card.profile, "Boats")
    draft = draft_pack(card.tree, card.profile, PackWish(entries=((menu, entry),)))
    assert {at.name for at, _ in draft.secrets} == {"wifi.conf", "id_rsa"}
    names = {item.name for item in draft.files}
    assert not names & {"wifi.conf", "id_rsa"}
    assert draft.companions
    wish = PackWish(entries=((menu, entry),), with_secrets=True, with_companions=True)
    names = {item.name for item in draft_pack(card.tree, card.profile, wish).files}
    assert names >= {"wifi.conf", "id_rsa"}
    assert any(item.at.path.startswith("keep/") for item in draft_pack(card.tree, card.profile, wish).files)


def test_large_content_waits_in_the_cache_and_goes_again(card, tmp_path):
    """Unpacked once, checked by its hash when it is written, dropped afterwards."""
    big = os.urandom(300_000)
    source = make_zip(tmp_path / "p.zip", {"shelf/New/big.bin": big})
    plan = card.plan(source)
    renders = Path(os.environ["CARDWRIGHT_CACHE"]) / "renders"
    assert len(list(renders.iterdir())) == 1
    apply(card.card, plan)
    drop_contents(plan)
    assert list(renders.iterdir()) == []
    assert (card.folder / "data/shelf/New/big.bin").read_bytes() == big


def test_an_archive_that_changes_between_looking_and_adding_is_refused(card, tmp_path):
    source = make_zip(tmp_path / "p.zip", {"shelf/New/begin": b"one"})
    look = card.look(source)
    make_zip(source, {"shelf/New/begin": b"two"})
    with pytest.raises(CardwrightError, match="changed since"):
        plan_add_pack(card.tree, card.profile, look)


def test_what_is_put_away_beside_a_pack_stays_away(tmp_path):
    """A list that the device makes again goes with the change; it does not come back when the pack goes."""
    from workbench.changes.plan import Plan, Remove

    card = PackCard("orrery", tmp_path / "card")
    cache = VolumePath("disk", "almanac/index.cache")
    plan = card.plan(make_zip(tmp_path / "p.zip", {"sky/New/piece.toml": b'file = "x"\n'}))
    apply(card.card, plan.then(Plan("", (Remove(cache),))))
    assert not (card.folder / "disk/almanac/index.cache").exists()
    assert read_traces(card.card).packs[0].is_alone
    card.remove("p")
    assert not (card.folder / "disk/sky/New").exists()
    assert not (card.folder / "disk/almanac/index.cache").exists()


def test_a_change_that_did_other_things_too_is_undone_as_a_whole(card, tmp_path):
    """Two wishes in one change cannot be told apart again: the refusal says what to do."""
    menu, entry = locate_entry(card.tree, card.profile, "Moss")
    plan = plan_rename(card.tree, card.profile, menu, entry, "Mosses")
    source = make_zip(tmp_path / "p.zip", {"shelf/New/begin": b"#!/bin/sh\n"})
    look = card.look(source)
    second = plan_add_pack(plan.on(card.tree), card.profile, look)
    apply(card.card, plan.then(second))
    with pytest.raises(CardwrightError, match="undo 1"):
        card.removal("p")


def test_a_new_sub_menu_gets_the_manifest_that_the_device_reads(tmp_path):
    """Fernway reads a list in each room: a pack that brings a room without one gets an empty one made."""
    card = PackCard("fernway", tmp_path / "card")
    before = tree_bytes(card.folder)
    card.add(make_zip(tmp_path / "p.zip", {"parlour/New Room/First.game": b"x"}))
    seen = card.seen()
    assert "New Room" in [entry["name"] for entry in seen["menus"][0]["entries"]]
    assert not [one for one in seen["problems"] if "room.ini" in one]
    card.remove("p")
    assert tree_bytes(card.folder) == before

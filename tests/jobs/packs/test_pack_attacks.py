"""Hostile packs: each is refused by name before a byte of it is taken, and nothing is written anywhere."""

from __future__ import annotations

import io
import os
import tarfile
import warnings
import zipfile
from pathlib import Path

import pytest
from pack_card import PackCard, make_zip
from practice_cards import tree_bytes

from workbench.errors import CardwrightError

GOOD = {"shelf/New/begin": b"#!/bin/sh\n"}

NAMES = {
    "../x": "leads out",
    "shelf/../../x": "leads out",
    "a/../b": "leads out",
    "/x": "root",
    "C:\\x": "backslash",
    "C:x": "drive letter",
    "C:/x": "drive letter",
    "\\\\host\\x": "backslash",
    "a\\..\\b": "backslash",
    "a//b": "empty part",
    "a/./b": "part '.'",
    "shelf/x:stream": "character :",
    "shelf/NUL": "reserved",
    "shelf/aux.txt": "reserved",
    "shelf/CONIN$": "reserved",
    "shelf/lpt1.a.b": "reserved",
    "shelf/x.": "dot",
    "shelf/x ": "space",
    "shelf/" + "n" * 256: "too long",
    "shelf/" + "\U0001f3ae" * 128: "too long",
    "shelf/a\tb": "control",
    "shelf/a\x01b": "control",
    "shelf/q?": "character ?",
    "/".join(["shelf", *("d" * 50)]): "deep",
    ".cardwright/changes/0001-000000/plan.json": "own record",
    ".CardWright/x": "own record",
}


@pytest.fixture(scope="module")
def shared(tmp_path_factory):
    """One card for all that is refused: each test asserts that nothing was written to it."""
    return PackCard("larkspur", tmp_path_factory.mktemp("attacked") / "card")


@pytest.fixture
def card(shared):
    return shared


def refused(card: PackCard, source: Path, **answers) -> str:
    """The refusal, after nothing was written: to the card, to the cache, or beside the archive."""
    before, beside = tree_bytes(card.folder), sorted(os.listdir(source.parent))
    with pytest.raises(CardwrightError) as caught:
        card.plan(source, **answers)
    assert tree_bytes(card.folder) == before
    assert sorted(os.listdir(source.parent)) == beside
    cache = Path(os.environ["CARDWRIGHT_CACHE"])
    assert not cache.exists() or not any(one.is_file() for one in cache.rglob("*"))
    return caught.value.message


@pytest.mark.parametrize("name", NAMES)
def test_hostile_names_in_a_zip(name, card, tmp_path):
    message = refused(card, make_zip(tmp_path / "p.zip", {**GOOD, name: b"x"}))
    assert NAMES[name] in message, message


@pytest.mark.parametrize("name", [name for name in NAMES if name != "a//b"])
def test_hostile_names_in_a_tar(name, card, tmp_path):
    with tarfile.open(tmp_path / "p.tar", "w") as tar:
        for one, content in {**GOOD, name: b"x"}.items():
            member = tarfile.TarInfo(one)
            member.size = len(content)
            tar.addfile(member, io.BytesIO(content))
    message = refused(card, tmp_path / "p.tar")
    assert NAMES[name] in message, message


PAIRS = {
    "case": (("shelf/Dir/File.TXT", "shelf/Dir/file.txt"), "same to the device"),
    "case of a folder": (("shelf/Dir/a", "shelf/dir/b"), "same to the device"),
    "accented case": (("shelf/É", "shelf/é"), "same to the device"),
    "composed and decomposed": (("shelf/caf\u00e9", "shelf/cafe\u0301"), "same to the device"),
    "file and folder": (("shelf/new", "shelf/new/inside"), "is a file"),
    "folder and file": (("shelf/new/inside", "shelf/new"), "needs a folder"),
    "twice": (("shelf/new", "shelf/new"), "twice"),
}


@pytest.mark.parametrize("pair", PAIRS)
def test_names_that_are_in_each_others_way(pair, card, tmp_path):
    names, word = PAIRS[pair]
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # zipfile warns of what is made here on purpose
        with zipfile.ZipFile(tmp_path / "p.zip", "w") as made:
            for number, name in enumerate(names):
                made.writestr(name, str(number))
    assert word in refused(card, tmp_path / "p.zip")


TAKEN = {
    "shelf/boats/more": "same to the device",
    "Shelf/Boats/more": "same to the device",
    "shelf/Boats/BEGIN": "same to the device",
    "shelf/Cafe\u0301 Lanterns/tale.txt": "same to the device",
    "shelf/Boats": "is a folder",
    "shelf/Boats/begin/inside": "is a file",
}


@pytest.mark.parametrize("name", TAKEN)
def test_names_that_the_card_has_otherwise(name, card, tmp_path):
    """Another case, another composition, a file for a folder: refused by name, never merged by guess."""
    message = refused(card, make_zip(tmp_path / "p.zip", {name: b"x"}))
    assert TAKEN[name] in message, message


def test_links_on_the_card_are_not_written_through(tmp_path):
    """A link on the card that leads out: what would go through it is refused."""
    card = PackCard("larkspur", tmp_path / "card")
    (tmp_path / "outside").mkdir()
    (card.folder / "data/shelf/out").symlink_to(tmp_path / "outside")
    assert "is a link" in refused(card, make_zip(tmp_path / "p.zip", {"shelf/out/x": b"x"}))


def test_a_link_in_a_zip_and_a_device_in_a_tar(card, tmp_path):
    with zipfile.ZipFile(tmp_path / "p.zip", "w") as made:
        one = zipfile.ZipInfo("shelf/link")
        one.create_system, one.external_attr = 3, 0o120777 << 16
        made.writestr(one, "/etc/passwd")
    assert "symbolic link" in refused(card, tmp_path / "p.zip")
    with tarfile.open(tmp_path / "p.tar", "w") as tar:
        member = tarfile.TarInfo("shelf/null")
        member.type = tarfile.CHRTYPE
        tar.addfile(member)
    assert "device" in refused(card, tmp_path / "p.tar")


def test_an_encrypted_zip(card, tmp_path):
    source = make_zip(tmp_path / "p.zip", GOOD)
    raw = bytearray(source.read_bytes())
    raw[raw.find(b"PK\3\4") + 6] |= 1
    raw[raw.find(b"PK\1\2") + 8] |= 1
    source.write_bytes(bytes(raw))
    assert "encrypted" in refused(card, source)


def test_a_refused_part_can_be_left_out(card, tmp_path):
    """If the person says so; the rest is added."""
    source = make_zip(tmp_path / "p.zip", {**GOOD, "shelf/aux.txt": b"x"})
    plan = card.plan(source, without=("shelf/aux.txt",))
    assert [step.at.path for step in plan.steps if hasattr(step, "content")][:1] == ["shelf/New/begin"]


def test_a_pack_for_exact_volumes_may_have_more_names():
    """Where no volume has FAT's rule, `a:b` is a name like any other, and case tells names apart."""
    from workbench.host.archives.member import Member
    from workbench.jobs.packs.judging import find_clashing_names, find_path_fault

    assert not find_path_fault("shelf/a:b", "exact", 40)
    members = [(name, Member(name, "file", 1)) for name in ("shelf/A", "shelf/a")]
    assert not find_clashing_names(members, "exact")
    assert find_clashing_names(members, "fat")

"""A scout finds what the search would find by itself; where there is none, or it fails, nothing is missed."""

from __future__ import annotations

import os

import pytest
from small_card import MENU, SmallCard, rule

from workbench.card import scout as scouting
from workbench.card import sweep as sweeping
from workbench.card.contents import Contents
from workbench.card.menu import locate_entry
from workbench.card.references import find_references
from workbench.card.scout import Scout
from workbench.card.sweep import list_texts, make_needles, sweep

FILES = {
    "data:shelf/Boats/": "",
    "data:x/a": "it holds Boats",
    "data:x/b": "no",
    "data:x/c é": b"\0",
    "data:x/Boats.png": b"Boats",
    "data:r.json": '{"things": {"Boats": 1}}',
    "data:big": b"x" * (8 * 1024 * 1024 + 1),
    "data:.cardwright/ours": "Boats",
    "data:x/cold-r.json": '{"Kites": 1}',
    "data:x/other-r.json": '{"Boats": 1}',
    "system:wide": "Boats".encode("utf-16-le"),
}
WANTED = [("data", path) for path in ("big", "r.json", "x/a", "x/d\udcff", "x/other-r.json")]
WANTED += [("system", "wide")]


@pytest.fixture
def card(tmp_path, monkeypatch):
    card = SmallCard(tmp_path, FILES, MENU + rule("data:r.json", "json", "", "/things/{entry}"))
    with open(os.fsencode(tmp_path / "data/x") + b"/d\xff", "wb") as file:
        file.write(b"Boats")
    (tmp_path / "data/x/link").symlink_to("a")
    monkeypatch.setattr(scouting, "can_fork", lambda: True)
    return card


def _is_gone():
    with pytest.raises(ChildProcessError):
        os.waitpid(-1, os.WNOHANG)
    return True


@pytest.mark.parametrize("folder", ["", "data", "system", "no such folder"])
def test_what_it_finds(card, tmp_path, folder):
    """Its listings are the tree's own, wherever it began to walk; its hits are those of a sweep, names that
    are no text included.
    """
    tree, ahead = card.tree, card.tree
    plain = {volume: tree.walk_folders(volume) for volume in tree.roles()}
    with Scout(str(tmp_path / folder)) as scout:
        scout.serve(ahead, card.profile)
        scout.look_for("Boats", "fat")
        assert {volume: ahead.walk_folders(volume) for volume in tree.roles()} == plain
        left, cold = scout.ruled("Boats", "fat")
        hits = scout.hits()
    folders = ((volume, at, list_texts(names)) for volume in plain for at, names in plain[volume].items())
    assert left == [("data", "r.json"), ("data", "x/cold-r.json"), ("data", "x/other-r.json")]
    assert cold == {("data", "x/cold-r.json"): ("json",)}
    assert sorted(hits) == [hit for hit in WANTED if hit not in left]
    assert sorted(sweep(Contents(tree), folders, make_needles("Boats"))) == WANTED
    assert _is_gone()


@pytest.mark.parametrize("way", ["plain", "scout", "no fork", "fails at once", "fails later", "another name"])
def test_a_search_finds_the_same(card, way, monkeypatch, tmp_path):
    """With a scout, without one, and with one that comes to a bad end or was sent for something else."""
    if way == "no fork":
        monkeypatch.setattr(scouting, "can_fork", lambda: False)
    if way == "fails at once":
        monkeypatch.setattr(scouting, "_report", lambda *_: os._exit(1))
    if way == "fails later":
        monkeypatch.setattr(sweeping, "sweep", lambda *_: os._exit(1))
    wanted = _search(card.tree, card.profile)
    found = [mention.at.path for mention in wanted.mentions]
    assert found == ["x/Boats.png", "x/a", "x/d\udcff", "x/other-r.json", "wide"]
    tree = card.tree
    if way == "plain":
        assert _search(tree, card.profile) == wanted
    else:
        with Scout(str(tmp_path)) as scout:
            scout.serve(tree, card.profile)
            scout.look_for("Boat" if way == "another name" else "Boats", "fat")
            assert _search(tree, card.profile) == wanted
    assert tree.scout is None and _is_gone()


def _search(tree, profile):
    return find_references(tree, profile, *locate_entry(tree, profile, "Boats"))


def test_a_file_that_another_rule_reads_otherwise(tmp_path, monkeypatch):
    """What names nothing in one format is still read in another, of which its name does not tell."""
    rules = rule("data:*.json", "json") + rule("data:**/*", "xml", "{entry}", "/a/0/@b")
    files = {"data:shelf/Boats/": "", "data:1.json": "<a b='B&#111;ats'/>", "data:2.json": '["x"]'}
    card = SmallCard(tmp_path, files, MENU + rules)
    monkeypatch.setattr(scouting, "can_fork", lambda: True)
    wanted = _search(card.tree, card.profile)
    tree = card.tree
    with Scout(str(tmp_path)) as scout:
        scout.serve(tree, card.profile)
        scout.look_for("Boats", "fat")
        assert _search(tree, card.profile) == wanted
    assert [manifest.at.path for manifest in wanted.manifests] == ["1.json"]


@pytest.mark.parametrize("asked", [0, 1, 2])
def test_an_error_takes_it_along(card, asked, tmp_path):
    """Whatever happens in the meantime, no child is left."""
    tree = card.tree
    with pytest.raises(RuntimeError), Scout(str(tmp_path)) as scout:
        if asked:
            scout.serve(tree, card.profile)
        if asked == 2:
            scout.look_for("Boats", "fat")
        raise RuntimeError
    assert tree.scout is None and _is_gone()

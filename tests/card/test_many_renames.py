"""Many names change at once, in every format: outside readers find what was wished, and undo is exact."""

from __future__ import annotations

import json
import random
import unicodedata

import gathered_card as gathered
import pytest

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import read_menus
from workbench.card.profile_reader import read_profile
from workbench.changes.apply import apply
from workbench.changes.undo import plan_undo
from workbench.errors import NameRefusedError
from workbench.jobs.rename import plan_rename
from workbench.jobs.renames import plan_renames

NAMES = (
    "Boats",
    "boats at dusk",
    "SpeedBoats",
    "%20",
    "a%20b",
    "$HOME",
    "~",
    "#1",
    "a;b",
    "it's",
    "&#65;",
    "x.tar.gz",
    "007",
    "e\u0301te\u0301",
    "😀" * 40,
    "a\u00a0b",
    "x" * 190,
    "a'b`c d",
)


class Desk:
    """A card on which every format names every entry."""

    def __init__(self, folder, names=NAMES, rule="fat"):
        self.profile = read_profile(gathered.build(folder, names, rule))
        self.folder = folder / "card"

    def open(self):
        card = open_card(str(self.folder), (self.profile,), self.profile)
        tree = DiskTree(card)
        return card, tree, read_menus(tree, self.profile)[0]

    def rename(self, renames):
        card, tree, menu = self.open()
        plan = plan_renames(tree, self.profile, menu, renames)
        assert plan.conflicts == ()
        apply(card, plan)


def mapped(found, renames):
    return {kind: [renames.get(name, name) for name in names] for kind, names in found.items()}


def check(desk, renames, tree_bytes):
    """Apply, read from outside, undo."""
    before, seen = tree_bytes(desk.folder), gathered.read(desk.folder)
    desk.rename(renames)
    assert gathered.read(desk.folder) == mapped(seen, renames)
    for number, name in enumerate(NAMES):
        new = renames.get(name, name)
        assert (desk.folder / f"pix/small-{new}_x.PNG").read_bytes() == b"\x89PNG %d" % number
        assert (desk.folder / f"beside/{new}.sav").read_bytes() == b"s%d" % number
    apply(desk.open()[0], plan_undo(desk.open()[0], 1))
    assert tree_bytes(desk.folder) == before


@pytest.mark.parametrize("seed", range(4))
def test_names_go_round(seed, tmp_path, tree_bytes):
    """Swaps, rings and whole permutations: each manifest names each entry once, under its new name."""
    picks = random.Random(seed)
    some = picks.sample(NAMES, picks.choice([2, 3, len(NAMES)]))
    check(Desk(tmp_path), dict(zip(some, [*some[1:], some[0]], strict=True)), tree_bytes)


@pytest.mark.parametrize(
    "renames",
    [
        {"Boats": "BOATS", "it's": "IT'S"},
        {"e\u0301te\u0301": "\u00e9t\u00e9"},
        {"x" * 190: "aa " + "x" * 190, "😀" * 40: "05 " + "😀" * 40},
        {name: f"{n:03d} {name}" for n, name in enumerate(NAMES)},
        {"Boats": "boats at dusk", "boats at dusk": "Boats at Dusk 2"},
    ],
)
def test_only_case_only_form_long_names_and_chains(renames, tmp_path, tree_bytes):
    """Each of these is one name to the device before and after, or leaves its place to another."""
    check(Desk(tmp_path), renames, tree_bytes)


@pytest.mark.parametrize("name", NAMES)
def test_one_among_many_is_as_one_alone(name, tmp_path):
    """Searched together or alone, an entry has the same references, mentions and moves."""
    desk = Desk(tmp_path)
    _, tree, menu = desk.open()
    entry = next(entry for entry in menu.entries if entry.name == name)
    new = "aa " + unicodedata.normalize("NFC", name)
    one = plan_rename(tree, desk.profile, menu, entry, new)
    many = plan_renames(tree, desk.profile, menu, {name: new})
    assert (many.steps, many.unruled, many.notes) == (one.steps, one.unruled, one.notes)


def test_two_entries_cannot_share_a_name(tmp_path):
    """Refused before anything is planned, in whatever case the two are written."""
    desk = Desk(tmp_path)
    _, tree, menu = desk.open()
    with pytest.raises(NameRefusedError, match="nothing was changed"):
        plan_renames(tree, desk.profile, menu, {"Boats": "Same", "SpeedBoats": "SAME"})
    with pytest.raises(NameRefusedError, match="nothing was changed"):
        plan_renames(tree, desk.profile, menu, {"Boats": "speedboats"})


def test_planned_on_a_plan_that_waits(tmp_path, tree_bytes):
    """Arranged after a rename that waits, all of it is one change; undo brings every byte back."""
    desk = Desk(tmp_path)
    before = tree_bytes(desk.folder)
    card, tree, menu = desk.open()
    boats = next(entry for entry in menu.entries if entry.name == "Boats")
    first = plan_rename(tree, desk.profile, menu, boats, "Ships")
    later = first.on(tree)
    waiting = read_menus(later, desk.profile)[0]
    renames = {"Ships": "it's", "it's": "Ships"}
    apply(card, first.then(plan_renames(later, desk.profile, waiting, renames)))
    names = ["it's" if name == "Boats" else "Ships" if name == "it's" else name for name in NAMES]
    assert gathered.read(desk.folder)["json value"] == names
    assert gathered.read(desk.folder)["shell"] == names
    apply(desk.open()[0], plan_undo(desk.open()[0], 1))
    assert tree_bytes(desk.folder) == before


TWO_MENUS = """
schema = 1
name = "Two"
[panel]
width = 1
height = 1
[volumes.one]
identify = ["a/", "b/"]
device_path = "/fs/one"
[[menus]]
id = "a"
root = "one:a"
entries = "folders"
[[menus.references]]
file = "one:both.json"
format = "json"
at = "/a/{entry}"
[[menus.references]]
file = "one:both.json"
format = "json"
at = "/runs/{n}"
is = "{path}"
[[menus]]
id = "b"
root = "one:b"
entries = "folders"
[[menus.references]]
file = "one:both.json"
format = "json"
at = "/b/{entry}"
[[menus.references]]
file = "one:both.json"
format = "json"
at = "/runs/{n}"
is = "{path}"
"""


def test_two_menus_that_share_a_manifest(tmp_path):
    """Namesakes in another menu keep their references, though they stand in the same file and list."""
    for folder in ("a", "b"):
        for name in ("Boats", "Moss"):
            (tmp_path / "card" / folder / name).mkdir(parents=True)
    runs = [f"/fs/one/{folder}/{name}/x" for folder in "ab" for name in ("Boats", "Moss")]
    both = {"a": {"Boats": 1, "Moss": 2}, "b": {"Boats": 3, "Moss": 4}, "runs": runs}
    (tmp_path / "card" / "both.json").write_text(json.dumps(both, indent=2))
    (tmp_path / "two.toml").write_text(TWO_MENUS)
    profile = read_profile(tmp_path / "two.toml")
    card = open_card(str(tmp_path / "card"), (profile,), profile)
    tree = DiskTree(card)
    menu = read_menus(tree, profile, "b")[0]
    plan = plan_renames(tree, profile, menu, {"Boats": "Moss", "Moss": "Boats"})
    assert plan.conflicts == () and plan.unruled == ()
    apply(card, plan)
    after = json.loads((tmp_path / "card" / "both.json").read_text())
    assert after["a"] == {"Boats": 1, "Moss": 2} and after["b"] == {"Moss": 3, "Boats": 4}
    assert after["runs"] == [*runs[:2], "/fs/one/b/Moss/x", "/fs/one/b/Boats/x"]


def test_names_go_round_in_a_folders_own_order(tmp_path, monkeypatch):
    """Where the folder's order is kept, pictures that change places with their entries do so too."""
    folder = tmp_path / "gathered"
    folder.mkdir()
    profile_path = gathered.build(folder, ("Boats", "Kites", "Moss"), "fat")
    text = profile_path.read_text().replace('entries = "folders"', 'entries = "folders"\norder = "directory"')
    profile_path.write_text(text)
    profile = read_profile(profile_path)
    card = open_card(str(folder / "card"), (profile,), profile)
    monkeypatch.setattr(DiskTree, "order_follows_moves", lambda *_: True)
    tree = DiskTree(card)
    menu = read_menus(tree, profile)[0]
    listed = [entry.name for entry in menu.entries]
    renames = dict(zip(listed, [*listed[1:], listed[0]], strict=True))
    plan = plan_renames(tree, profile, menu, renames)
    after = plan.on(tree)
    assert plan.listings[0].names == tuple(renames[name] for name in listed)
    for number, name in enumerate(("Boats", "Kites", "Moss")):
        at = menu.root.parent.parent.parent.child(f"pix/small-{renames[name]}_x.PNG")
        assert after.read(at) == b"\x89PNG %d" % number
        assert after.read(menu.root.child(f"{renames[name]}/run")) == b"%d" % number

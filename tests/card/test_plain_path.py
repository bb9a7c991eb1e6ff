"""Plain paths are read by a shorter way: it says what the long way says, of every text."""

from __future__ import annotations

import random

import pytest
from small_card import FILES, MENU, SmallCard

from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.path_rule import PathRule
from workbench.card.paths import VolumePath
from workbench.card.plain_path import is_plain_path

PICTURES = '[[menus.pictures]]\nkind = "icon"\npath = "data:shelf/art/{entry}_s.png"\n'
CARD = {
    "data:shelf/Boats/tale.txt": "",
    "data:shelf/Boats 2/tale.txt": "",
    "data:shelf/kites/Boats/x": "",
    "data:shelf/art/Boats_s.png": "",
    "data:lists/shelf/Boats/tale.txt": "",
    "data:lists/Boats": "",
    "data:mnt/store/x": "",
    "data:tales/Boats.tale": "",
    "system:start/Boats": "",
}
PARTS = [
    "Boats.tale", "Boats",
    "Boats", "boats", "Boats 2", "kites", "shelf", "Shelf", "art", "Boats_s.png", "lists", "mnt", "store",
    "sys-store", "tale.txt", "tales", "Boats.tale", "start", "..", ".", "", "$STORE", "no", "file:", "a%20b",
    "Boat\u00e9", ".hidden",
]  # fmt: skip
MANIFESTS = [VolumePath("data", "lists/a.txt"), VolumePath("data", "b.txt"), VolumePath("system", "start/c")]


@pytest.mark.parametrize("names", ["fat", "exact"])
@pytest.mark.parametrize("rules", [MENU + PICTURES, FILES])
def test_the_short_way_says_what_the_long_way_says(tmp_path, names, rules) -> None:
    """Seeded paths of names that are there, are not, are entries, files of one, or folders above."""
    card = SmallCard(tmp_path, CARD, rules, names)
    tree, profile = card.tree, card.profile
    entries = EntrySet(
        profile.menus[0], read_rule_menus(tree, profile, profile.menus[0], labels=False), profile
    )
    claims = find_entry_files(index_names(tree), entries)
    entries.add_files((claim.entries[0], claim.file) for claim in claims)
    picks, paths = random.Random(names), PathRule(tree, profile, entries)
    hits = 0
    for _ in range(5000):
        text = "/".join(picks.choices(PARTS, k=picks.randint(1, 5)))
        text = picks.choice(("", "", "/", "/mnt/store/", "/sys-store/", "shelf/", "tales/", "Boats")) + text
        manifest = picks.choice(MANIFESTS)
        short = paths.find(text, 0, len(text), manifest)
        assert short == paths.find_any(text, 0, len(text), manifest), text
        hits += short is not None and is_plain_path(text)
    assert hits > 20

"""Many names looked for at once."""

from __future__ import annotations

import gathered_card as gathered

from workbench.card import menu_search
from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.many_names import count_roughly
from workbench.card.menu import read_menus
from workbench.card.menu_search import MenuSearch
from workbench.card.profile_reader import read_profile


def test_a_name_in_a_longer_one_is_not_counted():
    """`Boats` stands in `Boats 2` and `SpeedBoats`, and is not meant there."""
    raw = b"Boats, Boats 2, Boats 2, SpeedBoats, Boats"
    names = {name: name for name in ("Boats", "Boats 2", "SpeedBoats", "Moss")}
    assert count_roughly(names, [raw]) == {"Boats": 2, "Boats 2": 2, "SpeedBoats": 1, "Moss": 0}


def test_both_ways_of_counting_agree_on_plain_names(tmp_path, monkeypatch):
    """Read or counted by the bytes, the heavier of two entries is the heavier."""
    profile = read_profile(gathered.build(tmp_path, ("Boats", "Kites", "Moss"), "fat"))
    card = open_card(str(tmp_path / "card"), (profile,), profile)
    with (tmp_path / "card/m/f.txt").open("ab") as lines:
        lines.write(b"\r\nMoss\r\nMoss\r\nKites")
    tree = DiskTree(card)
    menu = read_menus(tree, profile)[0]
    read = MenuSearch(tree, profile, menu).count()
    monkeypatch.setattr(menu_search, "_SMALL", 0)
    counted = MenuSearch(tree, profile, menu).count()
    assert sorted(read, key=read.__getitem__) == sorted(counted, key=counted.__getitem__)
    assert read["Boats"] + 2 == read["Moss"] == read["Kites"] + 1

"""Copies, additions and removals on a card in conventions of its own, checked with other readers."""

from __future__ import annotations

import configparser
import json
import tempfile
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from lxml import etree
from odd_card import APPS, FINDS
from odd_road import OddRoad
from practice_cards import tree_bytes

from workbench.card.menu import read_menus
from workbench.card.names import find_fault
from workbench.card.profile_reader import read_profile
from workbench.errors import EntryError, NameRefusedError
from workbench.jobs.entry import (
    find_hidden,
    pick_hidden,
    plan_add,
    plan_copy,
    plan_hide,
    plan_remove,
    plan_show,
)


@pytest.fixture
def road(tmp_path):
    return OddRoad(tmp_path)


def rows(road: OddRoad, group: str = "North") -> list[dict]:
    return json.loads(road.text(f"conf/{group}.json"))["items"]


def test_a_row_of_an_array_is_made_again(road):
    """`json` reads the old rows as they were, and one more whose fields name the copy."""
    before = rows(road)
    road.apply(plan_copy(*road.find("finds/North:7 Keys.lost"), 'Néw "x".lost'))
    after = rows(road)
    wanted = {
        "id": 'Néw "x"',
        "run": 'deep/North/Néw "x".lost',
        "n": 2,
        "says": 'Néw "x"',
        "next": "Lamp Post",
    }
    assert after[:-1] == before
    assert after[-1] == wanted
    marks = tomllib.loads(road.text("conf/state.toml"))["marks"]
    assert marks['Néw "x".lost'] == marks["7 Keys.lost"] == 1
    assert road.text("conf/loud.conf").splitlines()[-1] == 'Néw "x" = 4'


def test_lists_are_no_registration(road):
    """Favourites and a tour of a few are not added to, and the plan says where they are."""
    lists = [road.text(f"conf/{name}") for name in ("favs.txt", "tour.xml")]
    plan = road.apply(plan_copy(*road.find("finds/North:Lamp.find"), "Light.find"))
    assert [road.text(f"conf/{name}") for name in ("favs.txt", "tour.xml")] == lists
    told = next(note for note in plan.notes if note.startswith("Lists and settings"))
    assert "conf/favs.txt" in told and "conf/tour.xml" in told


def test_a_script_of_the_copy_leads_to_the_copy(road):
    """The script is as executable as the original's; XML rows and INI keys are made again."""
    road.apply(plan_copy(*road.find("Radio & TV"), "Rad & <o>'s"))
    script = road.folder / "apps/Rad & <o>'s/go.sh"
    assert "$CHEST/apps/Rad & <o>'s/data.bin" in script.read_text()
    assert script.stat().st_mode & 0o777 == 0o755
    for root in (
        ET.fromstring(road.text("conf/apps.xml")),
        etree.fromstring(road.text("conf/apps.xml").encode()),
    ):
        told = [(app.findtext("dir"), app.findtext("go")) for app in root.iter("app")]
        assert told[-1] == ("Rad & <o>'s", "./apps/Rad & <o>'s/go.sh")
        assert len(told) == len(APPS) + 1
    known = configparser.ConfigParser(interpolation=None)
    known.optionxform = str
    known.read(road.folder / "conf/apps.ini", encoding="utf-8")
    assert known["order"]["Rad & <o>'s"] == known["order"]["Radio & TV"]


def test_removing_takes_rows_items_and_keys(road):
    """No other reader finds a trace in rows, keys, tours and lists; the setting has an heir."""
    plan = road.apply(plan_remove(*road.find("finds/North:Café.find")))
    assert "Café" not in [row["id"] for row in rows(road)]
    assert all(row.get("next") != "Café" for row in rows(road))
    stops = [stop.get("to") for stop in ET.fromstring(road.text("conf/tour.xml"))]
    assert stops == ["/opt/chest/deep/North/Lamp.find"]
    assert (road.folder / "saved/North/Café.state").read_bytes() == b"kept"
    assert any("saved/North/Café.state stays" in note for note in plan.notes)
    road.apply(plan_remove(*road.find("finds/North:Lamp.find")))
    assert tomllib.loads(road.text("conf/state.toml"))["last"] == "/opt/chest/deep/North/Lamp Post.find"
    assert road.text("conf/favs.txt").splitlines()[0] == "/opt/chest/deep/South Wing/Lamp.find"
    assert [row["id"] for row in rows(road, "South Wing")] == ["Lamp", "Ölkanne"]


def test_an_added_entry_is_as_its_neighbour(road):
    """An empty file with a row of its own: fields that would lead to others are left out, and it is said."""
    tree, profile, menu, entry = road.find("finds/North:7 Keys.lost")
    plan = road.apply(plan_add(tree, profile, menu, "Nëu.lost", like=entry, label='Ganz "neu"'))
    assert rows(road)[-1] == {"id": "Nëu", "run": "deep/North/Nëu.lost", "n": 2, "says": 'Ganz "neu"'}
    assert (road.folder / "deep/North/Nëu.lost").read_bytes() == b""
    assert any(note.startswith("Registered as 7 Keys.lost is") for note in plan.notes)
    assert any("would lead nowhere or to others: next" in note for note in plan.notes)


def test_an_added_folder_has_its_script(road):
    """The script is made after the neighbour's; what it starts is there, empty."""
    tree, profile, menu, _ = road.find("apps:Clock")
    plan = road.apply(plan_add(tree, profile, menu, "Dice"))
    assert "$CHEST/apps/Dice/data.bin" in (road.folder / "apps/Dice/go.sh").read_text()
    assert (road.folder / "apps/Dice/data.bin").read_bytes() == b""
    assert any("Empty, for you to fill: chest:apps/Dice/data.bin" in note for note in plan.notes)


@pytest.mark.parametrize(("menu", "name", "error"), [
    ("finds/North", "Lamp.find", NameRefusedError),
    ("finds/North", "no suffix", EntryError),
    ("finds/North", "zz-x.find", NameRefusedError),
    ("finds/North", "a/b.find", NameRefusedError),
    ("finds/North", "x" * 80 + ".find", NameRefusedError),
    ("apps", "Clock~", NameRefusedError),
    ("apps", "", NameRefusedError),
    ("apps", "a\nb", NameRefusedError),
])  # fmt: skip
def test_names_that_cannot_be(road, menu, name, error):
    """A name that is taken, hidden, illegal, too long or of no such file is refused at once."""
    tree, profile, found, entry = road.find(f"{menu}:{'Clock' if menu == 'apps' else 'Lamp.find'}")
    with pytest.raises(error, match="nothing was changed"):
        plan_add(tree, profile, found, name)
    if name and not name.startswith("no"):
        with pytest.raises(error, match="nothing was changed"):
            plan_copy(tree, profile, found, entry, name)


def test_a_saved_game_in_the_entry_itself(tmp_path):
    """It is not copied unless asked for; a removal puts it away with the entry, says so, and keeps it."""
    road = OddRoad(tmp_path)
    inner = 'id = "apps"\ncompanions = ["chest:apps/{entry}/save.*"]\n'
    road.source.write_text(
        road.source.read_text(encoding="utf-8").replace('id = "apps"\n', inner), encoding="utf-8"
    )
    road.profile = read_profile(road.source)
    (road.folder / "apps/Clock/save.dat").write_bytes(b"mine")
    start = tree_bytes(road.folder)
    road.apply(plan_copy(*road.find("apps:Clock"), "Watch"))
    road.apply(plan_copy(*road.find("apps:Clock"), "Sundial", with_companions=True))
    assert not (road.folder / "apps/Watch/save.dat").exists()
    assert (road.folder / "apps/Sundial/save.dat").read_bytes() == b"mine"
    plan = road.apply(plan_remove(*road.find("apps:Clock")))
    assert any("apps/Clock/save.dat lies in it" in note for note in plan.notes)
    road.undo_all()
    assert tree_bytes(road.folder) == start


def test_the_first_entry_of_a_menu(road):
    """With nobody to follow and nowhere for a label, the entry is made, and the plan says what it lacks."""
    (road.folder / "deep/West").mkdir()
    menu = next(one for one in read_menus(road.tree, road.profile) if one.id == "finds/West")
    plan = road.apply(plan_add(road.tree, road.profile, menu, "One.find"))
    assert [step.at.path for step in plan.steps] == ["deep/West/One.find"]
    assert "Nothing registers it." in plan.notes


def test_a_broken_manifest_is_in_the_way(road):
    """It may hold a row of the entry: a conflict that can be mended, and no guess."""
    place = road.folder / "conf/North.json"
    place.write_text(
        road.text("conf/North.json").replace('"kind": "North",', '"kind": "North"', 1), encoding="utf-8"
    )
    for plan in (
        plan_copy(*road.find("finds/North:Lamp.find"), "Light.find"),
        plan_remove(*road.find("finds/North:Lamp.find")),
    ):
        assert [(one.at.path, one.mendable) for one in plan.conflicts] == [("conf/North.json", True)]


def test_a_picture_in_the_copys_place(road):
    """A stray picture where the copy's would be is a conflict, never written over."""
    (road.folder / "pix/North/Light-Big.BMP").write_bytes(b"mine")
    plan = plan_copy(*road.find("finds/North:Lamp.find"), "Light.find")
    assert [one.at.path for one in plan.conflicts] == ["pix/North/Light-Big.BMP"]


@pytest.mark.parametrize(
    ("name", "hidden"), [("finds/North:Lamp.find", "zz-Lamp.find"), ("apps:Clock", "Clock~")]
)
def test_a_device_hides_in_its_own_way(road, name, hidden):
    """By a name in front, by a sign behind: shown again, every byte is as it was."""
    start = tree_bytes(road.folder)
    road.apply(plan_hide(*road.find(name)))
    with pytest.raises(EntryError):
        road.find(name)
    tree = road.tree
    found = find_hidden(tree, road.profile)
    assert hidden in [one.name for one in found]
    road.apply(plan_show(tree, road.profile, pick_hidden(found, hidden)))
    assert tree_bytes(road.folder) == start


def test_no_way_to_hide(tmp_path):
    """A device that lists every name cannot hide one: refused, with what can be done."""
    road = OddRoad(tmp_path)
    source = road.source.read_text(encoding="utf-8").replace('hide = ["*~"]', "hide = []")
    road.source.write_text(source, encoding="utf-8")
    road.profile = read_profile(road.source)
    with pytest.raises(EntryError, match="can be removed"):
        plan_hide(*road.find("apps:Clock"))


NAMES = st.text(
    st.characters(exclude_categories=["Cs", "Cc", "Co", "Cn", "Zl", "Zp"]), min_size=1, max_size=10
).filter(
    lambda name: (
        find_fault(name, "fat") is None
        and not name.endswith("~")
        and name.strip() == name
        and not set("=:;#[]'\"") & set(name)
        and "Nothing " + name not in APPS
    )
)
PLACES = [f"finds/{group}:{name}" for group, names in FINDS.items() for name in names] + [
    f"apps:{name}" for name in APPS
]


@settings(max_examples=25, deadline=None)
@given(st.sampled_from(PLACES), NAMES)
def test_copied_and_removed_again_nothing_is_left(place, name):
    """Whatever the entry and the name: a copy that is removed again leaves every byte as it was."""
    with tempfile.TemporaryDirectory() as folder:
        road = OddRoad(Path(folder))
        start = tree_bytes(road.folder)
        tree, profile, menu, entry = road.find(place)
        new = f"Nothing {name}" + entry.name[len(entry.stem) :]
        road.apply(plan_copy(tree, profile, menu, entry, new))
        road.apply(plan_remove(*road.find(f"{menu.id}:{new}")))
        assert tree_bytes(road.folder) == start


@settings(max_examples=15, deadline=None)
@given(st.sampled_from(PLACES))
def test_hidden_and_shown_nothing_is_changed(place):
    """Hide, then show, leaves every byte as it was."""
    with tempfile.TemporaryDirectory() as folder:
        road = OddRoad(Path(folder))
        start = tree_bytes(road.folder)
        tree, profile, menu, entry = road.find(place)
        road.apply(plan_hide(tree, profile, menu, entry))
        now = road.tree
        hidden = pick_hidden(find_hidden(now, profile, menu.id), entry.name)
        road.apply(plan_show(now, profile, hidden))
        assert tree_bytes(road.folder) == start

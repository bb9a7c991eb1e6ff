"""The main job on a layout that no fixture has, from a profile written by hand alone."""

from __future__ import annotations

import configparser
import os
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from main_road import Road
from PIL import Image
from strange_card import build

from workbench.card.menu import read_menus
from workbench.jobs.splash import plan_blank, plan_put


@pytest.fixture
def road(tmp_path: Path) -> Road:
    profile = build(tmp_path)
    return Road(tmp_path / "strange", profile)


def sections(road: Road, group: str) -> dict[str, dict[str, str]]:
    known = configparser.ConfigParser(interpolation=None)
    known.read(road.folder / "conf" / f"{group}.ini", encoding="utf-8")
    return {name: dict(known[name]) for name in known.sections()}


def test_menus_are_listed(road):
    """One menu for each folder, in natural order, hidden ones left out, with the shown names."""
    menus = {menu.id: menu for menu in read_menus(road.tree, road.profile)}
    assert set(menus) == {"finds/North", "finds/South Wing"}
    north = menus["finds/North"].entries
    assert [entry.name for entry in north] == ["7_Key & Lock", "Find 2", "Find 10", "Lamp", "Lamp Post"]
    assert [entry.label for entry in north][3] == "The Lamp"


def test_rename_goes_everywhere_and_back(road, tree_bytes):
    """Sections, values, attributes, paths, pictures and saves follow; the other group's namesake stays."""
    start = tree_bytes(road.folder)
    road.rename("finds/North", "Lamp", "L'amp & [Öl]")
    new, text = "L'amp & [Öl]", (road.folder / "lists/by/hand/all.txt").read_bytes().decode()
    assert "Lamp" not in sections(road, "North") and sections(road, "North")[new]["caption"] == "The Lamp"
    assert sections(road, "North")["Lamp Post"]["next"] == new
    assert sections(road, "South Wing")["Lamp"]["caption"] == "The Lamp"
    wheres = [spot.get("where") for spot in ET.parse(road.folder / "web/map.xml").getroot()]
    assert all((road.folder / where).is_file() for where in wheres)
    assert text.split("\r\n")[-2] == f"./deep/er/still/North/{new}/thing.dat"
    assert all(
        (road.folder / path.removeprefix("/opt/chest/")).exists() for path in text.split("\r\n") if path
    )
    assert (road.folder / "lists/by/near.txt").read_bytes() == b"deep/er/still/South Wing/Lamp\n"
    assert (road.folder / f"pix/North/{new}-big.PNG").exists()
    assert (road.folder / f"saved/North/{new}.state").read_bytes() == b"kept Lamp"
    assert (road.folder / "saved/South Wing/Lamp.state").exists()
    road.undo_all()
    assert tree_bytes(road.folder) == start


def test_text_of_an_element_follows(road):
    """White space around the text stays, the text is escaped."""
    road.rename("finds/North", "7_Key & Lock", "8_<Key".replace("<", "&"))
    titles = [title.text for title in ET.parse(road.folder / "web/map.xml").getroot().iter("title")]
    assert " 8_&Key " in titles and " 7_Key & Lock " not in titles


def test_same_name_in_both_groups(road, tree_bytes):
    """Both namesakes are renamed, one after the other, to one name."""
    start = tree_bytes(road.folder)
    road.rename("finds/North", "Lamp", "Light")
    road.rename("finds/South Wing", "Lamp", "Light")
    assert not any(
        b"/Lamp/" in content or b"/Lamp\r" in content for _, _, content in tree_bytes(road.folder).values()
    )
    road.undo_all()
    assert tree_bytes(road.folder) == start


def test_splash_is_turned_and_stays_png(road, tmp_path, tree_bytes):
    """A picture of the panel's size is stored turned clockwise by 90, as PNG; undo brings the old back."""
    start = tree_bytes(road.folder)
    picture = Image.new("RGB", (320, 240), (0, 0, 255))
    picture.paste((255, 0, 0), (0, 0, 40, 20))
    picture.save(tmp_path / "in.png")
    road.apply(plan_put(road.tree, road.profile, ("start",), tmp_path / "in.png"))
    with Image.open(road.folder / "hello.PNG") as stored:
        assert stored.format == "PNG" and stored.size == (240, 320)
        upright = stored.convert("RGB").transpose(Image.Transpose.ROTATE_90)
    assert upright.tobytes() == picture.tobytes()
    road.apply(plan_blank(road.tree, road.profile, ("start",)))
    road.undo_all()
    assert tree_bytes(road.folder) == start


def test_modes_and_foreign_files_stay(road):
    """What no rule names is left as it is, its mode too."""
    stranger = road.folder / "deep/er/still/North/Lamp/run"
    stranger.write_bytes(b"#!/bin/sh\nexit 0\n")
    stranger.chmod(0o750)
    road.rename("finds/North", "Lamp", "Light")
    moved = road.folder / "deep/er/still/North/Light/run"
    assert os.stat(moved).st_mode & 0o777 == 0o750

"""Labels in every format: what was given is what is read, by us and by other readers, or it is refused."""

from __future__ import annotations

import configparser
import json
import tomllib
import xml.etree.ElementTree as ET
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from odd_road import OddRoad

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import find_entry, read_menus
from workbench.card.profile_reader import read_profile
from workbench.errors import CardError, CardwrightError, EntryError, ManifestError
from workbench.jobs.label import describe_label, plain_name, plan_label

HEAD = """schema = 1
name = "Plain"
[panel]
width = 64
height = 48
[volumes.data]
identify = ["shelf/"]
[[menus]]
id = "shelf"
root = "data:shelf"
prefix = { shown = %s }
"""

FORMATS = {
    "json": ('{"things": {"Boats": {"says": "old"}}}', "/things/{entry}/says"),
    "toml": ("[things.\"Boats\"]\nsays = 'old' # kept\n", "/things/{entry}/says"),
    "ini": ("; kept\n[Boats]\nsays = old\n", "/{entry}/says"),
    "keyvalue": ("# kept\nBoats = old\n", "/{entry}"),
    "xml": ("<m><i of='Boats'><says>old</says></i></m>", "/m/0/i/{row}/says/0/#text"),
}


def set_up(folder: Path, format: str, content: str | None = None, shown: str = "true"):
    """A card of one entry, its label in one manifest of that format."""
    text, at = FORMATS[format]
    (folder / "data/shelf/Boats").mkdir(parents=True)
    (folder / "data/labels").write_text(content if content is not None else text, encoding="utf-8")
    key = 'key = "/m/0/i/{row}/@of"\n' if format == "xml" else ""
    label = f'[menus.label]\nfile = "data:labels"\nformat = "{format}"\nat = "{at}"\n{key}'
    (folder / "p.toml").write_text(HEAD % shown + label, encoding="utf-8")
    profile = read_profile(folder / "p.toml")
    return profile, DiskTree(open_card(str(folder), (profile,), profile))


def read_outside(format: str, raw: bytes) -> str | None:
    """The label as another reader of that format has it; key=value by its first sign of equality."""
    text = raw.decode()
    if format == "json":
        return json.loads(text)["things"]["Boats"]["says"]
    if format == "toml":
        return tomllib.loads(text)["things"]["Boats"]["says"]
    if format == "ini":
        known = configparser.ConfigParser(interpolation=None)
        known.read_string(text)
        return known["Boats"]["says"]
    if format == "xml":
        return ET.fromstring(text).findtext("i/says")
    return next(line for line in text.splitlines() if line.startswith("Boats")).partition("=")[2].strip()


TEXTS = st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=20)


@pytest.mark.parametrize("format", ["json", "toml", "xml"])
def test_any_text_comes_back_or_is_refused(format, tmp_path_factory):
    """Whatever signs a text holds: other readers find it as it was given, or it is refused in words."""

    @settings(max_examples=60, deadline=None)
    @given(TEXTS)
    def check(text):
        profile, tree = set_up(tmp_path_factory.mktemp("card"), format)
        menu, entry = find_entry(read_menus(tree, profile), "Boats")
        try:
            plan = plan_label(tree, profile, menu, entry, text)
        except CardwrightError as error:
            assert "nothing was changed" in error.message.lower()
            return
        if plan.steps:
            assert read_outside(format, plan.steps[0].content) == text

    check()


PLAIN = ['It\'s "so"', "a & b <c>", "$HOME `x`; #1", "Ümläut 雨", "x" * 400, "a=b", "[x]", "50 % off"]


@pytest.mark.parametrize("format", FORMATS)
@pytest.mark.parametrize("text", PLAIN)
def test_every_format_holds_plain_signs(format, text, tmp_path):
    """Quotes, ampersands, dollars and other letters: read back as given, or refused, never something else."""
    profile, tree = set_up(tmp_path, format)
    menu, entry = find_entry(read_menus(tree, profile), "Boats")
    try:
        plan = plan_label(tree, profile, menu, entry, text)
    except ManifestError:
        # Where a value may end in a comment, the format cannot hold one that looks like it.
        assert format in ("ini", "keyvalue") and set(text) & set('#;"')
        return
    read = read_outside(format, plan.steps[0].content)
    assert read in (text, f'"{text}"')
    assert read_menus(plan.on(tree), profile)[0].entries[0].label == text


@pytest.mark.parametrize(("format", "text"), [
    ("ini", "two\nlines"), ("keyvalue", "two\nlines"), ("ini", "bell\a"), ("xml", "bell\a"),
    ("json", "   "), ("json", ""),
])  # fmt: skip
def test_what_a_format_cannot_hold(format, text, tmp_path):
    """Line ends and control characters are refused where they would be lost, and so is an empty text."""
    profile, tree = set_up(tmp_path, format)
    menu, entry = find_entry(read_menus(tree, profile), "Boats")
    with pytest.raises((ManifestError, EntryError)):
        plan_label(tree, profile, menu, entry, text)


@pytest.mark.parametrize(("format", "content"), [
    ("json", "{}"), ("json", '{"things": {"Boats": {}}}'), ("toml", "x = 1\n"), ("ini", ""),
    ("ini", "[Boats]\nx=1"), ("keyvalue", ""), ("xml", "<m><i of='Boats'/></m>"),
    ("xml", "<m><i of='Boats'><says/></i></m>"),
])  # fmt: skip
def test_a_label_is_added_where_there_is_none(format, content, tmp_path):
    """What is missing on the way to the label is made; other readers find it."""
    profile, tree = set_up(tmp_path, format, content)
    menu, entry = find_entry(read_menus(tree, profile), "Boats")
    assert not describe_label(menu, entry).is_set
    plan = plan_label(tree, profile, menu, entry, "New")
    assert read_outside(format, plan.steps[0].content) == "New"
    assert read_menus(plan.on(tree), profile)[0].entries[0].label == "New"


def test_a_broken_manifest_can_be_mended_first(tmp_path):
    """A comma that is missing is a conflict with a mend, not a guess."""
    profile, tree = set_up(tmp_path, "json", '{"things": {"Boats": {"says": "a" "b": 1}}}')
    menu, entry = find_entry(read_menus(tree, profile), "Boats")
    (conflict,) = plan_label(tree, profile, menu, entry, "New").conflicts
    assert conflict.at.path == "labels" and conflict.mendable


def test_no_row_and_no_file(tmp_path):
    """Where a list names its entries itself and this one is not in it, or the file is gone: refused."""
    profile, tree = set_up(tmp_path, "xml", "<m><i of='Kites'/></m>")
    menu, entry = find_entry(read_menus(tree, profile), "Boats")
    with pytest.raises(EntryError, match="about Boats"):
        plan_label(tree, profile, menu, entry, "New")
    (tmp_path / "data/labels").unlink()
    with pytest.raises(CardError):
        plan_label(DiskTree(tree.card), profile, menu, entry, "New")


@pytest.mark.parametrize(
    ("shown", "told"), [("true", "is seen on its screen too"), ("false", "leaves out the prefix")]
)
def test_where_the_name_is_shown(tmp_path, shown, told):
    """Without a label the words say so, and what the prefix looks like; a label is refused."""
    (tmp_path / "data/shelf/aa Boats").mkdir(parents=True)
    (tmp_path / "p.toml").write_text(HEAD % shown)
    profile = read_profile(tmp_path / "p.toml")
    tree = DiskTree(open_card(str(tmp_path), (profile,), profile))
    menu, entry = find_entry(read_menus(tree, profile), "aa Boats")
    facts = describe_label(menu, entry)
    assert (facts.is_apart, facts.shown) == (False, "aa Boats" if shown == "true" else "Boats")
    assert told in facts.sentence
    with pytest.raises(EntryError, match="Rename it"):
        plan_label(tree, profile, menu, entry, "New")


def test_a_label_goes_by_its_key(tmp_path):
    """In an array of rows the label is set in the row that names the entry, by stem, in the right file."""
    road = OddRoad(tmp_path)
    road.apply(plan_label(*road.find("finds/South Wing:Lamp.find"), "Südlampe"))
    north, south = (json.loads(road.text(f"conf/{group}.json"))["items"] for group in ("North", "South Wing"))
    assert [row["says"] for row in south if row["id"] == "Lamp"] == ["Südlampe"]
    assert [row["says"] for row in north if row["id"] == "Lamp"] == ["The Lamp"]


@pytest.mark.parametrize(("name", "plain"), [("05_Lamp.find", "Lamp"), ("Lamp Post.find", "Lamp Post")])
def test_a_plain_name(tmp_path, name, plain):
    """Without the prefix that serves the order, and without a file's suffix."""
    _, _, menu, _ = OddRoad(tmp_path).find("finds/North:Lamp.find")
    assert plain_name(menu, name) == plain

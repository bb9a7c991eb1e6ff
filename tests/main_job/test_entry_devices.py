"""Whole entries on the practice cards, judged by the devices' own readers; each change is undone."""

from __future__ import annotations

import unicodedata

import pytest
from device_view import comparable, differences
from entry_view import dangling, others, seen_entry
from main_road import Road
from PIL import Image
from practice_cards import profile_path

from workbench.card.menu import find_entry, read_menus
from workbench.jobs.entry import (
    find_hidden,
    pick_hidden,
    plan_add,
    plan_copy,
    plan_hide,
    plan_remove,
    plan_show,
)
from workbench.jobs.icon import list_pictures, plan_icon
from workbench.jobs.label import describe_label, plan_label

NEW = "New 'it' & #1; $x"

CASES = [
    ("larkspur", "shelf", "Boats 2"),
    ("larkspur", "shelf", "雨の庭"),
    ("larkspur", "shelf", "Zebra Crossing"),
    ("larkspur", "shelf", "Curly {braces}"),
    ("fernway", "rooms", "Tunes"),
    ("fernway", "rooms", "Été"),
    ("fernway", "parlour/Puzzles", "Knots 9.game"),
    ("fernway", "parlour/Tunes", "Long Way Home (live).tune"),
    ("fernway", "parlour/night [late]", "Owl.game"),
    ("orrery", "sky", "Moon"),
    ("orrery", "sky", "HoneyMoon"),
    ("orrery", "sky", "Ñu in the Reeds"),
    ("orrery", "sky", "zenith"),
]


class Bench:
    """One practice card, and one entry of it."""

    def __init__(self, device, menu_id, name, practice_card, read_device, tree_bytes):
        self.device, self.menu_id, self.name = device, menu_id, name
        self.card = practice_card(device)
        self.road = Road(self.card, profile_path(device))
        self.start = tree_bytes(self.card)
        self._read, self._bytes = read_device, tree_bytes

    def find(self, name=None):
        tree = self.road.tree
        return (
            tree,
            self.road.profile,
            *find_entry(read_menus(tree, self.road.profile), f"{self.menu_id}:{name or self.name}"),
        )

    def apply(self, plan):
        assert plan.conflicts == ()
        self.road.apply(plan)
        return plan

    def look(self):
        return self._read(self.device, self.card)

    def is_as_at_start(self):
        return self._bytes(self.card) == self.start

    def undo_all(self):
        self.road.undo_all()
        assert self.is_as_at_start()


@pytest.fixture(params=CASES, ids=lambda case: f"{case[0]}-{case[2]}")
def bench(request, practice_card, read_device, tree_bytes):
    return Bench(*request.param, practice_card, read_device, tree_bytes)


TEXTS = ['It\'s "new" & <b>, `x` $HOME; #1 = ü 雨', "A" * 300]


@pytest.mark.parametrize("text", TEXTS, ids=["signs", "long"])
def test_a_label_is_what_the_device_shows(bench, text):
    """The label alone changes, whatever signs it holds; every other entry shows the same."""
    before = bench.look()
    bench.apply(plan_label(*bench.find(), text))
    after = bench.look()
    shown = seen_entry(after, bench.menu_id, bench.name)
    assert shown["label"] == text
    was = seen_entry(before, bench.menu_id, bench.name)
    assert {**shown, "label": "", "label_from": ""} == {**was, "label": "", "label_from": ""}
    assert others(after, bench.menu_id, bench.name) == others(before, bench.menu_id, bench.name)
    assert after["problems"] == []
    bench.undo_all()


def test_the_label_is_described(bench):
    """What we say is shown is what the device shows, and whether a manifest says it agrees too."""
    _, _, menu, entry = bench.find()
    facts, shown = describe_label(menu, entry), seen_entry(bench.look(), bench.menu_id, bench.name)
    assert (facts.shown, facts.is_set) == (shown["label"], shown["label_from"] != "name")
    assert facts.is_apart


def test_a_new_icon_is_shown(bench, tmp_path):
    """The reader finds a picture of the size it wants at the same place; undo brings the old one back."""
    before = seen_entry(bench.look(), bench.menu_id, bench.name)["icon"]
    Image.new("RGBA", (301, 90), (9, 200, 3, 120)).save(tmp_path / "in.png")
    bench.apply(plan_icon(*bench.find(), "icon", tmp_path / "in.png"))
    seen = bench.look()
    after = seen_entry(seen, bench.menu_id, bench.name)["icon"]
    assert (after["path"], after["size"]) == (before["path"], before["size"])
    assert after["sha256"] != before["sha256"]
    assert seen["problems"] == []
    with Image.open(bench.card / bench.find()[3].at.volume / after["path"]) as picture:
        assert picture.mode == "RGBA"
    bench.undo_all()


def test_a_missing_picture_is_made(bench, tmp_path):
    """Every kind that is missing can be put in; the reader finds it and has nothing to complain of."""
    Image.new("RGB", (64, 64), (1, 2, 3)).save(tmp_path / "in.bmp")
    for picture in list_pictures(*bench.find()):
        (bench.card / picture.at.volume / picture.at.path).unlink(missing_ok=True)
        missing = [one for one in list_pictures(*bench.find()) if one.is_missing]
        assert picture.kind in [one.kind for one in missing]
        bench.apply(plan_icon(*bench.find(), picture.kind, tmp_path / "in.bmp"))
    seen = bench.look()
    assert seen["problems"] == []
    assert seen_entry(seen, bench.menu_id, bench.name)["icon"]


def test_hidden_and_shown_again(bench):
    """A hidden entry is not listed and nothing else changes; shown again, every byte is as it was.

    But where a manifest spelled the name otherwise (in case or form): it then holds the name itself.
    """
    before = bench.look()
    bench.apply(plan_hide(*bench.find()))
    seen = bench.look()
    assert seen_entry(seen, bench.menu_id, bench.name) is None
    told = (f".{bench.name.rpartition('.')[0] or bench.name}", "manuals/")
    problems = [unicodedata.normalize("NFC", one) for one in seen["problems"]]
    assert all(any(part in one for part in told) for one in problems)
    hidden = pick_hidden(find_hidden(bench.road.tree, bench.road.profile), f"{bench.menu_id}:{bench.name}")
    bench.apply(plan_show(bench.road.tree, bench.road.profile, hidden))
    assert bench.is_as_at_start() or bench.name == "Ñu in the Reeds"
    assert differences(comparable(bench.look()), comparable(before)) == []
    bench.undo_all()


def test_a_copy_stands_on_its_own(bench):
    """The copy has its own label, icon and command; the others are as before; removed, it is gone."""
    before = bench.look()
    suffix = bench.name[len(bench.find()[3].stem) :]
    bench.apply(plan_copy(*bench.find(), NEW + suffix))
    seen = bench.look()
    copy, original = (seen_entry(seen, bench.menu_id, name) for name in (NEW + suffix, bench.name))
    assert seen["problems"] == []
    assert others(seen, bench.menu_id, NEW + suffix).items() >= others(before, "", "").items()
    assert copy["icon"]["sha256"] == original["icon"]["sha256"]
    assert copy["icon"]["path"] != original["icon"]["path"]
    assert copy["label"] == (NEW if original["label_from"] != "name" else copy["label"])
    if copy["command"]:
        files = [file["path"] for run in copy["command"]["runs"] for file in run["files"]]
        assert any(NEW in path for path in files)
    assert copy["saves"] == []
    bench.apply(plan_remove(*bench.find(NEW + suffix)))
    assert bench.is_as_at_start()
    bench.undo_all()


def test_a_copy_with_its_companions(bench):
    """Saved games and manuals come along where that is asked for, and are the copy's own."""
    suffix = bench.name[len(bench.find()[3].stem) :]
    bench.apply(plan_copy(*bench.find(), NEW + suffix, with_companions=True))
    seen = bench.look()
    copy, original = (seen_entry(seen, bench.menu_id, name) for name in (NEW + suffix, bench.name))
    assert copy["saves"] == original["saves"]
    assert seen["problems"] == []
    bench.undo_all()


def test_an_added_entry_is_listed(bench, tmp_path):
    """An empty entry is listed with its label, its command leads somewhere, and an icon completes it."""
    tree, profile, menu, entry = bench.find()
    name = NEW + entry.name[len(entry.stem) :]
    bench.apply(plan_add(tree, profile, menu, name, label="Shown so"))
    added = seen_entry(bench.look(), bench.menu_id, name)
    assert added["label"] == "Shown so"
    Image.new("RGB", (64, 64), (1, 2, 3)).save(tmp_path / "in.png")
    bench.apply(plan_icon(*bench.find(name), "icon", tmp_path / "in.png"))
    seen = bench.look()
    assert seen["problems"] == []
    assert seen_entry(seen, bench.menu_id, name)["command"] or bench.menu_id == "rooms"
    bench.undo_all()


def test_an_added_entry_goes_without_a_trace(bench):
    """Added and removed again, every byte is as it was."""
    tree, profile, menu, entry = bench.find()
    name = NEW + entry.name[len(entry.stem) :]
    bench.apply(plan_add(tree, profile, menu, name, like=entry))
    bench.apply(plan_remove(*bench.find(name)))
    assert bench.is_as_at_start()


def test_a_removed_entry_leaves_nothing_dangling(bench):
    """It is gone from the menu and from every list; its saved games are where they were."""
    kept = ("/keep/", "/memory/", "/manuals/", "/logs/")
    saves = {
        place: content[2]
        for place, content in bench.start.items()
        if any(folder in place for folder in kept) and place.endswith((".save", ".log", ".txt"))
    }
    plan = bench.apply(plan_remove(*bench.find()))
    seen = bench.look()
    assert seen_entry(seen, bench.menu_id, bench.name) is None
    assert dangling(seen) == []
    assert all((bench.card / place).read_bytes() == content for place, content in saves.items())
    assert plan.steps[-1].at.path
    bench.undo_all()


def test_a_script_that_names_a_removed_entry_is_named(practice_card, read_device, tree_bytes):
    """A word of another entry's script cannot be taken out: it is listed, with its line, and left."""
    bench = Bench("larkspur", "shelf", "Boats", practice_card, read_device, tree_bytes)
    plan = bench.apply(plan_remove(*bench.find()))
    words = [mention for mention in plan.unruled if mention.at.path == "shelf/Boats 2/begin"]
    assert [mention.line for mention in words] == [2]
    assert dangling(bench.look()) == [
        "entry 'Boats 2', leaf: '/mnt/store/shelf/Boats/tale.txt' leads nowhere"
    ]
    assert any("stay" in note and "keep/Boats.save" in note for note in plan.notes)
    bench.undo_all()


def test_the_heir_of_a_setting(practice_card, read_device, tree_bytes):
    """The one setting that named a removed room names the room that takes its place."""
    bench = Bench("fernway", "rooms", "Puzzles", practice_card, read_device, tree_bytes)
    plan = bench.apply(plan_remove(*bench.find()))
    assert bench.look()["lists"]["room"] == "Tunes"
    assert any("names Tunes now" in note for note in plan.notes)
    bench.undo_all()


def test_the_first_entry_of_a_new_room(practice_card, read_device, tree_bytes):
    """A new room, its first game, and an icon for each: the device shows both without a complaint."""
    bench = Bench("fernway", "rooms", "Tunes", practice_card, read_device, tree_bytes)
    tree, profile, rooms, _ = bench.find()
    bench.apply(plan_add(tree, profile, rooms, "Hall"))
    hall = next(one for one in read_menus(bench.road.tree, profile) if one.id == "parlour/Hall")
    bench.apply(plan_add(bench.road.tree, profile, hall, "One.game", label="The First"))
    Image.new("RGB", (9, 9)).save(bench.card / "in.png")
    for menu_id, name in (("rooms", "Hall"), ("parlour/Hall", "One.game")):
        tree = bench.road.tree
        found = find_entry(read_menus(tree, profile), f"{menu_id}:{name}")
        bench.apply(plan_icon(tree, profile, *found, "icon", bench.card / "in.png"))
    (bench.card / "in.png").unlink()
    seen = bench.look()
    assert seen["problems"] == []
    assert seen_entry(seen, "parlour/Hall", "One.game")["label"] == "The First"
    bench.undo_all()

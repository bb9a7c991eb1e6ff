"""The main job on the practice cards, judged by the devices' own readers: rename, look again, undo."""

from __future__ import annotations

import pytest
from device_view import comparable, differences, expected_view
from main_road import Road
from practice_cards import profile_path

LARKSPUR = [
    ("Boats", "Ships"),
    ("Boats 2", "Boats"),
    ("SpeedBoats", "Boats 2"),
    ("Moss", "It's $HOME & `pwd`; #1"),
    ("Moss and Fern", "Moss"),
    ("Café Lanterns", "Cafe [x] (y) {z}"),
    ("The Old Mill", "05 The Old Mill"),
    ("The Old Mill [extended]", "100%25 Sure = ~"),
    ("Tide & Time", "tide and time"),
    ("Nine o'clock Bells", "Åäö 'quoted' !"),
    ("Salt+Pepper = Soup", "-n ^ @ + , x"),
    ("Sound of 3 Rivers", "Sound of 3 Rivers 🎈"),
    ("Semicolon; A Romance", "A"),
    ("$mall Change", "${STORE}"),
    ("01 Morning Walk", "aa Morning Walk"),
    ("Apple Orchard", "apple orchard"),
    ("100 Steps", "100.5"),
    ("Åsa's Kite", "Asas Kite"),
    ("雨の庭", "雨の庭 'と' & 海"),
    ("Tilde ~ Waves", "~"),
    ("Über den Hügel", "$(rm -rf x)"),
    ("#9 Bus", "Bus #9"),
    ("Curly {braces}", "{entry}"),
]

FERNWAY = [
    ("parlour/Puzzles", "Boats.game", "Ships & 'Sails'.game"),
    ("parlour/Puzzles", "Boats.2.game", "Boats.game"),
    ("parlour/Puzzles", "Boats 2.game", "Boats.2.game"),
    ("parlour/Puzzles", "Bell [v2].game", "[bell]; #2 = $x.game"),
    ("parlour/Puzzles", "Bell.game", "Bell.3.game"),
    ("parlour/Puzzles", "Café Maze.game", "05-Cafe Maze.game"),
    ("parlour/Puzzles", "Knots.game", "03-Knots.game"),
    ("parlour/Puzzles", "Knots 9.game", "KNOTS 9.game"),
    ("parlour/Puzzles", "Lost Marbles.GAME", "Found Marbles.GAME"),
    ("parlour/Puzzles", "Ferry No.game", "Ferry.game"),
    ("parlour/Puzzles", "50% Luck.game", "50%25 Luck.game"),
    ("parlour/Puzzles", "01-Warm Up.game", "Warm Up.game"),
    ("parlour/Puzzles", "Drop; Catch.game", "Ça va.game"),
    ("parlour/Tunes", "Kettle & Drum.tune", "Kettle % Drum #1.tune"),
    ("parlour/Tunes", "Slow Reel.tune", "Slow Reel 3.tune"),
    ("parlour/Été", "Plage.game", "Plage 'ô' (2).game"),
    ("parlour/night [late]", "Moth & Lamp.game", "Moth.game"),
    ("rooms", "Puzzles", "01-Riddles & Such"),
    ("rooms", "Tunes", "[Songs]; #1"),
    ("rooms", "night [late]", "Night [late]"),
    ("rooms", "Été", "Hiver 'doux'"),
    ("parlour/01-Riddles & Such", "SpeedBoats.game", "Boats 9.game"),
]

ORRERY = [
    ("Moon", "Lune"),
    ("Moon 2", "Moon"),
    ("HoneyMoon", "aa Honey & (Moon)"),
    ("Étoile filante", "Étoile 'filée'"),
    ("Ñu in the Reeds", "Nu"),
    ("Mars & Back", "Mars &amp; Back"),
    ("Sun's Edge", "The ''' Edge"),
    ("Comet #3", "Comet #33"),
    ("Café Terrace at Dusk", "50%20 Off"),
    ("zenith", "Zenith"),
    ("Twin.A", "Twin"),
    ("Twin.A.2", "Twin.A"),
    ("Полярная", "key = value [table]"),
    ("North", "]]&gt; CDATA"),
    ("1 Orbit", "1 Orbit; $x `y` {z}"),
    ("Sea of a Thousand Very Patient Small Lanterns", "S"),
    ("Dust = Gold", "🜚 Gold"),
    ("aa First Watch", "First Watch"),
    ("Zodiac Wheel", "\u00ab Wheel \u00bb"),
]

CASES = {
    "larkspur": [("shelf", old, new) for old, new in LARKSPUR],
    "fernway": FERNWAY,
    "orrery": [("sky", old, new) for old, new in ORRERY],
}


@pytest.mark.parametrize("device", CASES)
def test_rename_keeps_all_that_the_device_shows(device, practice_card, read_device, tree_bytes):
    """One rename after another: the reader sees the same under the new name each time; undo restores all."""
    card = practice_card(device)
    start, road = tree_bytes(card), Road(card, profile_path(device))
    seen = read_device(device, card)
    for menu_id, old, new in CASES[device]:
        road.rename(menu_id, old, new)
        wanted = expected_view(seen, device, menu_id, old, new)
        seen = read_device(device, card)
        assert seen["problems"] == [], (old, new)
        assert differences(comparable(seen), wanted) == [], (old, new)
    road.undo_all()
    assert tree_bytes(card) == start


@pytest.mark.parametrize(("device", "menu_id", "one", "other"), [
    ("larkspur", "shelf", "Boats", "Boats 2"),
    ("fernway", "parlour/Puzzles", "Boats.game", "Boats.2.game"),
    ("orrery", "sky", "Mars & Back", "Sun's Edge"),
])  # fmt: skip
def test_two_entries_change_names(device, menu_id, one, other, practice_card, read_device, tree_bytes):
    """Through a third name, two entries swap theirs with all that belongs to each; undo swaps them back."""
    card = practice_card(device)
    start, before = tree_bytes(card), read_device(device, card)
    road = Road(card, profile_path(device))
    between = "Between" + (".game" if device == "fernway" else "")
    wanted = before
    for old, new in ((one, between), (other, one), (between, other)):
        road.rename(menu_id, old, new)
        view = read_device(device, card)
        assert differences(comparable(view), expected_view(wanted, device, menu_id, old, new)) == []
        wanted = view
    road.undo_all()
    assert tree_bytes(card) == start


@pytest.mark.parametrize("device", CASES)
def test_undo_of_one_rename_alone(device, practice_card, read_device, tree_bytes):
    """Two renames that share manifests; the first is undone alone, then the second: as at the start."""
    card = practice_card(device)
    start, road = tree_bytes(card), Road(card, profile_path(device))
    (menu_id, first, new), (_, second, _) = CASES[device][0], CASES[device][3]
    road.rename(menu_id, first, new)
    road.rename(menu_id, second, "Other " + second)
    road.changes.reverse()
    road.undo_all()
    assert tree_bytes(card) == start
    assert read_device(device, card)["problems"] == []


@pytest.mark.parametrize(("device", "menu_id", "name", "new"), [
    ("larkspur", "shelf", "Boats", "Ships"),
    ("fernway", "parlour/Puzzles", "Boats.game", "Ships.game"),
    ("orrery", "sky", "Moon", "Lune"),
])  # fmt: skip
def test_unruled_mentions_are_listed_and_left(device, menu_id, name, new, practice_card):
    """The read-me and the database that mention the entry are named in the plan and not touched by it."""
    road = Road(practice_card(device), profile_path(device))
    plan = road.plan_rename(menu_id, name, new)
    mentioned = {mention.at.path.rpartition("/")[2] for mention in plan.unruled}
    assert mentioned & {"read me.txt", "notes.txt", "README.txt"}
    if device != "larkspur":
        assert mentioned & {"plays.db", "visits.sqlite"}
    touched = {str(step.at) for step in plan.steps if hasattr(step, "at")}
    assert not touched & {str(mention.at) for mention in plan.unruled if mention.line is None}

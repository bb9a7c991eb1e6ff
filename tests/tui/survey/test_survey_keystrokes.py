"""From a card that nobody described to a correct rename, as one who never saw the tool: keys are counted.

Answers to the survey's questions are not counted, everything else is: saving, finding the entry, every letter
of its new name, writing, confirming. The judges are the devices' own readers, and for an invented card its
maker's list of what names what, compared with the card's bytes: no code of the workbench has a say in either.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, until
from layout_card import CardPlan, Thing
from layouts import FIXED_SEEDS, make_layout
from survey_bench import answer_all, look_at, open_unknown_bench, surveyed
from surveying_layouts import look_at_device
from test_any_keys import belongings
from test_keystrokes import Keys
from textual.pilot import Pilot

from workbench.tui.find_dialog import find_matches

MOST_KEYS = 15

RENAMES = {
    "larkspur": ("Boats", "Ships", "Ships"),
    "fernway": ("Boats.game", "Ships", "Ships.game"),
    "orrery": ("Moon", "Luna", "Luna"),
}
"""For each device: an entry, what is typed in place of its stem, and the name that comes of it."""


async def go_to(keys: Keys, name: str) -> None:
    """Put the cursor on an entry: by the arrows, or by the first letters of a word of its line and arrows."""
    entries = bench_of(keys.pilot).menu_page.entries
    at = [row.name for row in entries.rows].index(name)
    away, texts = at - entries.cursor, [row.line.text for row in entries.rows]
    roads = [["down" if away > 0 else "up"] * abs(away)]
    line = texts[at].lower()
    for word in (line[n:] for n in range(len(line)) if n == 0 or line[n - 1] in " ("):
        for letters in (word[:n] for n in range(1, len(word))):
            down = find_matches(texts, letters).index(at)
            typed = ["space" if char == " " else char for char in letters]
            roads.append(["slash", *typed, *["down"] * down, "enter"])
    await keys.press(*min(roads, key=len))
    assert entries.row and entries.row.name == name


async def rename_by_keys(pilot: Pilot[int], name: str, typed: str) -> int:
    """Save the survey's profile, rename an entry and write; how many keys that took."""
    bench, keys = bench_of(pilot), Keys(pilot)
    await keys.press("s")
    await until(pilot, lambda: bench.page is bench.menu_page)
    await labels_read(pilot)
    await go_to(keys, name)
    await keys.press("r")
    await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
    await keys.press(*typed, "enter")
    await until(pilot, lambda: bench.desk and bench.desk.waiting)
    await keys.confirm()
    return keys.count


@pytest.mark.parametrize("name", RENAMES)
async def test_an_unknown_practice_card_is_renamed_within_fifteen_keys(
    practice_card: Callable[[str], Path], read_device: Callable[[str, Path], dict[str, Any]], name: str
) -> None:
    """Its profile withheld; the device shows the new name, with everything that belonged to the old one."""
    folder = practice_card(name)
    before = read_device(name, folder)
    old, typed, new = RENAMES[name]
    async with open_unknown_bench(folder).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, look_at(name, folder))
        count = await rename_by_keys(pilot, old, typed)
    print(count, "keys")
    assert count <= MOST_KEYS
    after = read_device(name, folder)
    assert belongings(after) == belongings(before)
    assert after["problems"] == before["problems"]
    names_before = Counter(entry["name"] for menu in before["menus"] for entry in menu["entries"])
    names_after = Counter(entry["name"] for menu in after["menus"] for entry in menu["entries"])
    assert (names_before - names_after, names_after - names_before) == (Counter([old]), Counter([new]))


def pick_thing(plan: CardPlan) -> Thing:
    """An entry of the first menu and room that much names; its name is like no other."""
    parents = {thing.parent for thing in plan.things}
    others = [thing.stem for thing in plan.things]
    fitting = [
        thing
        for thing in plan.menus[0].things
        if thing not in parents
        and thing.parent in (None, plan.menus[0].things[0].parent)
        and thing.stem.isascii()
        and thing.stem.replace(" ", "").isalnum()
        and sum(thing.stem in other for other in others) == 1
    ]
    return max(fitting, key=lambda thing: len(plan.places[thing]))


def read_lines(folder: Path) -> dict[str, list[bytes]]:
    """Every file's lines."""
    return {
        str(file.relative_to(folder)): file.read_bytes().split(b"\n")
        for file in sorted(folder.rglob("*"))
        if file.is_file() and ".cardwright" not in file.parts
    }


@pytest.mark.parametrize("seed", [3, 19, 42])
async def test_an_invented_card_is_renamed_within_fifteen_keys(seed: int, tmp_path: Path) -> None:
    """Exactly the lines and files that its maker knows to name the entry have changed."""
    assert seed in FIXED_SEEDS
    plan = make_layout(seed)
    folder = plan.write(tmp_path / "card")
    thing = pick_thing(plan)
    new = "Quay" + thing.name[len(thing.stem) :]
    before = read_lines(folder)
    async with open_unknown_bench(folder, withhold=False).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, lambda question: look_at_device(plan, question))
        count = await rename_by_keys(pilot, thing.name, "Quay")
    print(count, "keys")
    assert count <= MOST_KEYS
    check_renamed(plan, thing, new, before, read_lines(folder))


def check_renamed(
    plan: CardPlan, thing: Thing, new: str, before: dict[str, list[bytes]], after: dict[str, list[bytes]]
) -> None:
    """Lines changed are the lines that name it; files moved are those that bear its name or lie in it."""
    places = plan.places[thing]

    def on_card(volume: str, path: str) -> str:
        return f"{volume}/{path}" if volume else path

    root = on_card(thing.menu.volume.folder, thing.path)
    named = {on_card(place.folder, place.path) for place in places if place.line is None} | {root}
    moved = {path for path in before if any(path == one or path.startswith(f"{one}/") for one in named)}
    assert set(before) - set(after) == moved
    assert len(set(after) - set(before)) == len(moved)
    lines = {(on_card(p.folder, p.path), p.line) for p in places if p.line is not None}
    changed = {
        (path, number)
        for path in set(before) & set(after)
        for number, (old_line, new_line) in enumerate(zip(before[path], after[path], strict=True), 1)
        if old_line != new_line
    }
    assert changed == {(path, line) for path, line in lines if path not in moved}
    old_stem, new_stem = thing.stem.encode(), new.partition(".")[0].encode()
    assert all(new_stem in after[path][number - 1] for path, number in changed)
    assert not any(old_stem in after[path][number - 1] for path, number in changed)

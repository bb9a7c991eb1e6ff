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

from workbench.tui.entry_row import EntryRow
from workbench.tui.find_dialog import find_matches

MOST_KEYS = 15

RENAMES = {
    "larkspur": ("Boats", "Ships", "Ships"),
    "fernway": ("SpeedBoats.game", "Ships", "Ships.game"),
    "orrery": ("Moon", "Luna", "Luna"),
}
"""For each device: an entry, what is typed in place of its stem, and the name that comes of it."""


def shortest_road(texts: list[str], at: int) -> list[str]:
    """From the first line to another: the arrows, or the first letters of a word of the line, and arrows."""
    roads = [["down"] * at]
    line = texts[at].lower()
    for word in (line[n:] for n in range(len(line)) if n == 0 or line[n - 1] in " ("):
        for letters in (word[:n] for n in range(1, len(word))):
            typed = ["space" if char == " " else char for char in letters]
            roads.append(["slash", *typed, *["down"] * find_matches(texts, letters).index(at), "enter"])
    return min(roads, key=len)


async def open_menu(keys: Keys) -> list[EntryRow]:
    """Save the profile; the menu opens with it."""
    bench = bench_of(keys.pilot)
    await keys.press("s")
    await until(keys.pilot, lambda: bench.page is bench.menu_page)
    await labels_read(keys.pilot)
    return list(bench.menu_page.entries.rows)


async def rename(keys: Keys, rows: list[EntryRow], name: str, typed: str) -> None:
    """Go to an entry, rename it and write."""
    bench, pilot = bench_of(keys.pilot), keys.pilot
    at = [row.name for row in rows].index(name)
    await keys.press(*shortest_road([row.line.text for row in rows], at))
    assert bench.menu_page.entries.row and bench.menu_page.entries.row.name == name
    await keys.press("r")
    await until(pilot, lambda: pilot.app.screen.query("#dialog-input"))
    await keys.press(*typed, "enter")
    await until(pilot, lambda: bench.desk and bench.desk.waiting)
    await keys.confirm()


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
        keys = Keys(pilot)
        rows = await open_menu(keys)
        await rename(keys, rows, old, typed)
    assert keys.count <= MOST_KEYS
    assert share_within_reach(rows, len(typed)) >= 0.75
    after = read_device(name, folder)
    assert belongings(after) == belongings(before)
    assert after["problems"] == before["problems"]
    names_before = Counter(entry["name"] for menu in before["menus"] for entry in menu["entries"])
    names_after = Counter(entry["name"] for menu in after["menus"] for entry in menu["entries"])
    assert (names_before - names_after, names_after - names_before) == (Counter([old]), Counter([new]))


def share_within_reach(rows: list[EntryRow], letters: int) -> float:
    """Of all entries of that menu, how many can be renamed so with no more keys."""
    texts = [row.line.text for row in rows]
    roads = [len(shortest_road(texts, at)) for at in range(len(texts))]
    fixed = len(("s", "r", "enter", "w", "enter"))
    return sum(road + letters + fixed <= MOST_KEYS for road in roads) / len(roads)


def pick_thing(plan: CardPlan, listed: list[str]) -> Thing:
    """An entry of the menu that is listed, with a name like no other; the one that most names."""
    parents = {thing.parent for thing in plan.things}
    stems = [thing.stem for thing in plan.things]
    fitting = [
        thing
        for thing in plan.things
        if thing.name in listed
        and thing not in parents
        and thing.stem.isascii()
        and sum(thing.stem in other for other in stems) == 1
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
    before = read_lines(folder)
    async with open_unknown_bench(folder, withhold=False).run_test(size=(80, 24)) as pilot:
        await surveyed(pilot)
        await answer_all(pilot, lambda question: look_at_device(plan, question))
        keys = Keys(pilot)
        rows = await open_menu(keys)
        thing = pick_thing(plan, [row.name for row in rows])
        new = "Quay" + thing.name[len(thing.stem) :]
        await rename(keys, rows, thing.name, "Quay")
    assert keys.count <= MOST_KEYS
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

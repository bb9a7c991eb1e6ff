"""Whatever is pressed on the menu: once written, the device shows what the list showed, and undo is exact.

Seeded keys; the devices' own readers, programs apart, are the judges.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from test_menu_page import write
from textual.pilot import Pilot

from workbench.changes.apply import apply
from workbench.changes.undo import plan_undo
from workbench.tui.dialog import Dialog

KEYS = (
    *("down", "up", "pagedown", "home", "end") * 3,
    *("space", "m", "f", "e") * 3,
    *("M", "b", "a", "s", "R", "x", "n", "X", "backspace", "escape", "right", "left", "H"),
)


async def press_any(pilot: Pilot[int], picks: random.Random, count: int) -> list[str]:
    """Press so many keys; a question is stepped back from. Ends with nothing in hand and all planned."""
    bench, pressed = bench_of(pilot), []
    for _ in range(count):
        if isinstance(pilot.app.screen, Dialog):
            await pilot.press("escape")
        pressed.append(picks.choice(KEYS))
        await pilot.press(pressed[-1])
    bench.menu_page.place()
    await until(pilot, lambda: not bench.is_planning)
    while isinstance(pilot.app.screen, Dialog):
        await pilot.press("escape")
        await until(pilot, lambda: not bench.is_planning)
    return pressed


async def shown_menus(pilot: Pilot[int]) -> dict[str, list[str]]:
    """What the list shows for each menu, once everything was read."""
    page, found = bench_of(pilot).menu_page, {}
    await until(pilot, lambda: not pilot.app.workers and page._read_for is bench_of(pilot).desk.waiting)  # type: ignore[union-attr]
    for _ in page._menus:
        assert page.menu
        found[page.menu.id] = [row.label or row.name for row in page.entries.rows]
        page.action_menu_next()
    return found


def seen_menus(seen: dict[str, Any]) -> dict[str, list[str]]:
    """What the device shows."""
    return {menu["id"]: [entry["label"] for entry in menu["entries"]] for menu in seen["menus"]}


def belongings(seen: dict[str, Any]) -> Counter[str]:
    """What every entry has, whatever it is called: pictures, saves and what its command opens, by content."""
    found: Counter[str] = Counter()
    for menu in seen["menus"]:
        for entry in menu["entries"]:
            opened = [
                file["sha256"] for run in (entry["command"] or {}).get("runs", ()) for file in run["files"]
            ]
            saves = sorted((save["kind"], save["sha256"]) for save in entry["saves"])
            found[repr(((entry["icon"] or {}).get("sha256"), opened, saves))] += 1
    return found


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("device", ["larkspur", "fernway", "orrery"])
async def test_the_device_shows_what_the_list_showed(
    practice_card: Callable[[str], Path],
    read_device: Callable[[str, Path], dict[str, Any]],
    tree_bytes: Callable[[Path], dict[str, Any]],
    device: str,
    seed: int,
) -> None:
    """Menus in order, and every entry with what belongs to it; hidden ones aside, which it does not show."""
    folder = practice_card(device)
    before, bytes_before = read_device(device, folder), tree_bytes(folder)
    picks = random.Random(f"{device} {seed}")
    async with open_bench(folder, device).run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        pressed = await press_any(pilot, picks, 40)
        wanted = await shown_menus(pilot)
        bench = bench_of(pilot)
        assert bench.desk
        card, changed = bench.desk.card, bool(bench.desk.waiting)
        if changed:
            await write(pilot)
    after = read_device(device, folder)
    seen = seen_menus(after)
    if device == "orrery":  # it lists a folder as the folder does, and this disk sorts names its own way
        seen, wanted = ({menu: sorted(shown) for menu, shown in one.items()} for one in (seen, wanted))
    assert seen == wanted, pressed
    assert not belongings(after) - belongings(before), pressed
    if tree_bytes(folder) != bytes_before:
        apply(card, plan_undo(card, 1))
    assert tree_bytes(folder) == bytes_before, pressed

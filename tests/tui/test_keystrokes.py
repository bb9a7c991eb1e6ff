"""How many keys the common wishes take, counted from a cold start on a card with 24 entries.

Every key is counted, the confirmation too. The card is Larkspur with the names below, some of which begin
alike; an entry is reached by the shorter of two roads: the arrows, or `/`, its first letters and enter.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from bench_app import bench_of, labels_read, open_bench, until
from textual.pilot import Pilot

from workbench.assets import find_assets
from workbench.changes.ledger import read_history
from workbench.tui.find_dialog import find_matches
from workbench.tui.write_dialog import WriteDialog

NAMES = (
    "Anchor Song", "Bell Tower", "Boats", "Cloud Atlas of Moss", "Drift", "Evening Walk", "Ferry No 7",
    "Garden Wall", "Harbour", "Harbour Lights", "Ink", "Juniper", "Kite", "Lantern", "Moss", "Night Walk",
    "Orchard", "Paper Moon", "Quiet Room", "Rain", "River", "Stone Bridge", "Tide", "Zebra Crossing",
)  # fmt: skip


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """24 entries, each in the register and with a start script."""
    folder = tmp_path / "card"
    shutil.copytree(find_assets("fixtures") / "cards" / "larkspur" / "system", folder / "system")
    for name in NAMES:
        (folder / "data/shelf" / name).mkdir(parents=True)
        (folder / "data/shelf" / name / "begin").write_text(f"#!/bin/sh\nplay '/mnt/store/shelf/{name}/x'\n")
    (folder / "data/house").mkdir()
    things = {name: {"says": name, "begin": f"./shelf/{name}/begin"} for name in NAMES}
    (folder / "data/house/register.json").write_text(json.dumps({"things": things}, indent=1))
    return folder


class Keys:
    """Presses keys and counts them."""

    def __init__(self, pilot: Pilot[int]) -> None:
        self.pilot = pilot
        self.count = 0

    async def press(self, *keys: str) -> None:
        """Press these."""
        self.count += len(keys)
        await self.pilot.press(*keys)

    async def go_to(self, name: str) -> None:
        """Put the cursor on an entry by the shorter road."""
        entries = bench_of(self.pilot).menu_page.entries
        names = [row.name for row in entries.rows]
        away = names.index(name) - entries.cursor
        arrows = ["down" if away > 0 else "up"] * abs(away)
        texts = [row.line.text for row in entries.rows]
        letters = next(n for n in range(1, 20) if find_matches(texts, name[:n])[:1] == [names.index(name)])
        found = ["slash", *(letter.lower() for letter in name[:letters]), "enter"]
        await self.press(*min(arrows, found, key=len))
        assert entries.row and entries.row.name == name

    async def confirm(self) -> None:
        """Write, once it is asked whether to."""
        await self.press("w")
        await until(self.pilot, lambda: isinstance(self.pilot.app.screen, WriteDialog))
        await self.press("enter")
        bench = bench_of(self.pilot)
        await until(self.pilot, lambda: bench.desk and not bench.desk.waiting and not bench.is_writing)


def shown(read_device: Callable[[str, Path], dict[str, Any]], folder: Path) -> list[str]:
    """What the device's own reader shows."""
    return [entry["label"] for entry in read_device("larkspur", folder)["menus"][0]["entries"]]


@pytest.mark.parametrize("name", ["Anchor Song", "Boats", "Juniper", "Night Walk", "Tide"])
async def test_sending_one_entry_last_takes_at_most_six_keys(
    card: Path, read_device: Callable[[str, Path], dict[str, Any]], name: str
) -> None:
    """Reached, sent, written, confirmed."""
    async with open_bench(card, "larkspur").run_test(size=(80, 24)) as pilot:
        await labels_read(pilot)
        keys = Keys(pilot)
        await keys.go_to(name)
        await keys.press("e")
        await keys.confirm()
        assert keys.count <= 6
    assert shown(read_device, card) == [*(other for other in NAMES if other != name), name]


@pytest.mark.parametrize(
    "names", [("Tide", "Garden Wall", "Lantern"), ("Night Walk", "Evening Walk", "Stone Bridge")]
)
async def test_three_scattered_entries_go_to_the_top_in_at_most_sixteen_keys(
    card: Path, read_device: Callable[[str, Path], dict[str, Any]], names: tuple[str, ...]
) -> None:
    """Marked in the order wanted, sent first, written; then undone in at most three keys."""
    async with open_bench(card, "larkspur").run_test(size=(80, 24)) as pilot:
        bench = bench_of(pilot)
        await labels_read(pilot)
        keys = Keys(pilot)
        for name in names:
            await keys.go_to(name)
            await keys.press("m")
        await keys.press("f")
        await keys.confirm()
        assert keys.count <= 16
        assert shown(read_device, card) == [*names, *(other for other in NAMES if other not in names)]

        undo = Keys(pilot)
        await undo.press("4")
        await until(pilot, lambda: bench.page._changes)  # type: ignore[union-attr]
        await undo.press("u")
        await until(pilot, lambda: isinstance(pilot.app.screen, WriteDialog))
        await undo.press("enter")
        assert bench.desk
        history = bench.desk.card
        await until(pilot, lambda: len(read_history(history)) == 2 and not bench.is_writing)
        assert undo.count <= 3
    assert shown(read_device, card) == list(NAMES)

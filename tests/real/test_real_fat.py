"""The main job on kernel vfat: device readers judge, undo brings all back, fsck finds nothing."""

from __future__ import annotations

import json
import random
import shlex
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import practice_cards
import pytest
from fat_machine import FatMachine

pytestmark = pytest.mark.real

JOBS = {
    "larkspur": ("data", "shelf"),
    "fernway": ("main", "parlour"),
    "orrery": ("disk", "sky"),
}
NEW = "Ça & là's [new]"


def _entry(device: str) -> tuple[str, str]:
    """An entry that is named in several places, and its new name."""
    seen = practice_cards.read_device(device, practice_cards.FIXTURES / "cards" / device)
    pairs = [(menu["id"], entry["name"]) for menu in seen["menus"] for entry in menu["entries"]]
    menu, name = next((pair for pair in pairs if "Boats" in pair[1]), pairs[len(pairs) // 2])
    return f"{menu}:{name}", NEW + (Path(name).suffix if device == "fernway" else "")


def _read(device: str, card: FatMachine) -> str:
    words = [f"{role}=/mnt/card/{role}" for role in card.roles]
    reader = practice_cards.FIXTURES / "readers" / f"{device}.py"
    command = shlex.join([sys.executable, "-I", "-B", str(reader), *words, "--json"])
    return f"echo SEEN; {command}; echo; echo END"


def _seen(printed: str) -> list[dict[str, Any]]:
    return [json.loads(part.partition("\nEND")[0]) for part in printed.replace("\r", "").split("SEEN\n")[1:]]


def _exits(printed: str) -> list[str]:
    return [line for line in printed.replace("\r", "").splitlines() if line.startswith("EXIT ")]


@pytest.mark.parametrize("device", practice_cards.DEVICES)
def test_the_main_job_on_vfat(device: str, fat: Callable[..., FatMachine]) -> None:
    """Rename with references, blank the splash, undo both: readers agree, every name and byte comes back."""
    card = fat(practice_cards.roles(device))
    card.fill(practice_cards.FIXTURES / "cards" / device)
    before = card.read_tree()
    entry, new = _entry(device)
    profile = ("--profile", str(practice_cards.profile_path(device)))
    printed = card.run(
        [
            _read(device, card),
            card.command("rename", "/mnt/card", entry, new, "--yes", *profile),
            card.command("splash", "/mnt/card", "blank", "--yes", "--background", "#203040", *profile),
            _read(device, card),
        ]
    )
    assert _exits(printed) == ["EXIT 0", "EXIT 0"], printed
    first, second = _seen(printed)
    assert first["problems"] == second["problems"] == []
    names = [found["name"] for menu in second["menus"] for found in menu["entries"]]
    assert new in names
    assert first["splash"] != second["splash"]
    card.check_clean()
    printed = card.run(
        [card.command("undo", "/mnt/card", number, "--yes", *profile) for number in ("2", "1")]
    )
    assert _exits(printed) == ["EXIT 0", "EXIT 0"], printed
    assert card.read_tree() == before
    card.check_clean()


def test_a_case_only_rename_on_vfat(fat: Callable[..., FatMachine]) -> None:
    """vfat ignores a plain case-only rename; through a third name it takes, and undo takes it back."""
    card = fat(("data", "system"))
    card.fill(practice_cards.FIXTURES / "cards" / "larkspur")
    before = card.read_tree()
    entry, _ = _entry("larkspur")
    new = entry.partition(":")[2].swapcase()
    profile = ("--profile", str(practice_cards.profile_path("larkspur")))
    printed = card.run(
        [card.command("rename", "/mnt/card", entry, new, "--yes", *profile), _read("larkspur", card)]
    )
    assert _exits(printed) == ["EXIT 0"], printed
    seen = _seen(printed)[0]
    assert new in [found["name"] for menu in seen["menus"] for found in menu["entries"]]
    assert seen["problems"] == []
    card.run([card.command("undo", "/mnt/card", "--yes", *profile)])
    assert card.read_tree() == before
    card.check_clean()


def test_a_folders_own_order_is_set_on_vfat(fat: Callable[..., FatMachine]) -> None:
    """Orrery lists its folder as it is: sent first, the reader shows it so; undo restores the order."""
    card = fat(practice_cards.roles("orrery"))
    card.fill(practice_cards.FIXTURES / "cards" / "orrery")
    profile = ("--profile", str(practice_cards.profile_path("orrery")))
    start = _names(_seen(card.run([_read("orrery", card)]))[0])
    middle = start[len(start) // 2]
    printed = card.run([card.command("arrange", "/mnt/card", "--first", middle, "--yes", *profile)])
    assert _exits(printed) == ["EXIT 0"], printed
    assert _names(_seen(card.run([_read("orrery", card)]))[0]) == [middle, *(n for n in start if n != middle)]
    card.check_clean()
    card.run([card.command("undo", "/mnt/card", "--yes", *profile)])
    assert _names(_seen(card.run([_read("orrery", card)]))[0]) == start
    card.check_clean()


def test_a_whole_folder_order_is_set_on_vfat(fat: Callable[..., FatMachine]) -> None:
    """All entries in another order, a hidden and a loose file among them: undo restores each slot."""
    card = fat(practice_cards.roles("orrery"))
    card.fill(practice_cards.FIXTURES / "cards" / "orrery")
    profile = ("--profile", str(practice_cards.profile_path("orrery")))
    extra = "cd /mnt/card/disk/sky; echo 1 > .hidden; echo 2 > 'loose file.txt'; cd /"
    look = "echo LIST; ls -1UaQ /mnt/card/disk/sky; echo END"
    printed = card.run([extra, look, _read("orrery", card)])
    before, slots = card.read_tree(), _listed(printed)
    start = _seen(printed)[0]
    wanted = _shuffled(_names(start))
    printed = card.run(
        [
            card.command("arrange", "/mnt/card", "--order", *wanted, "--yes", *profile),
            look,
            _read("orrery", card),
        ]
    )
    assert _exits(printed) == ["EXIT 0"], printed
    after = _seen(printed)[0]
    assert _names(after) == wanted and after["problems"] == start["problems"]
    assert sorted(_listed(printed)) == sorted(slots)
    card.check_clean()
    printed = card.run([card.command("undo", "/mnt/card", "--yes", *profile), look])
    assert _exits(printed) == ["EXIT 0"], printed
    assert _listed(printed) == slots
    assert card.read_tree() == before
    card.check_clean()


def test_a_folder_order_and_new_names_are_one_change_on_vfat(fat: Callable[..., FatMachine]) -> None:
    """Numbered, every entry keeps its place in the folder, though each has a longer name; undo is exact."""
    card = fat(practice_cards.roles("orrery"))
    card.fill(practice_cards.FIXTURES / "cards" / "orrery")
    profile = ("--profile", str(practice_cards.profile_path("orrery")))
    start = _names(_seen(card.run([_read("orrery", card)]))[0])
    before = card.read_tree()
    printed = card.run(
        [card.command("arrange", "/mnt/card", "--number", "--yes", *profile), _read("orrery", card)]
    )
    assert _exits(printed) == ["EXIT 0"], printed
    names = _names(_seen(printed)[0])
    assert [name[:4] for name in names] == [f"{n:03d} " for n in range(10, 10 * len(start) + 1, 10)]
    assert all(old.endswith(name[4:]) for name, old in zip(names, start, strict=True))
    card.run([card.command("undo", "/mnt/card", "--yes", *profile)])
    assert _names(_seen(card.run([_read("orrery", card)]))[0]) == start
    assert card.read_tree() == before
    card.check_clean()


def test_a_rename_keeps_the_folders_own_order_on_vfat(fat: Callable[..., FatMachine]) -> None:
    """A longer name would move an entry's slot; the others stay where they were around it."""
    card = fat(practice_cards.roles("orrery"))
    card.fill(practice_cards.FIXTURES / "cards" / "orrery")
    profile = ("--profile", str(practice_cards.profile_path("orrery")))
    start = _names(_seen(card.run([_read("orrery", card)]))[0])
    new = "A name of many more slots than it had before"
    printed = card.run([card.command("rename", "/mnt/card", start[3], new, "--yes", *profile)])
    assert _exits(printed) == ["EXIT 0"], printed
    assert _names(_seen(card.run([_read("orrery", card)]))[0]) == [*start[:3], new, *start[4:]]


def test_a_full_card_is_refused_before_the_first_byte(fat: Callable[..., FatMachine]) -> None:
    """ENOSPC is true here: with no room left the rename is refused, exit 1, and nothing has changed."""
    card = fat(("data", "system"))
    card.fill(practice_cards.FIXTURES / "cards" / "larkspur")
    card.run(["cat /dev/zero > /mnt/card/data/filler 2>/dev/null; sync"])
    before = card.read_tree()
    entry, new = _entry("larkspur")
    profile = ("--profile", str(practice_cards.profile_path("larkspur")))
    printed = card.run([card.command("rename", "/mnt/card", entry, new, "--yes", *profile)])
    assert _exits(printed) == ["EXIT 1"], printed
    assert card.read_tree() == before
    card.check_clean()


def _names(seen: dict[str, Any]) -> list[str]:
    return [entry["name"] for entry in seen["menus"][0]["entries"]]


def _listed(printed: str) -> list[str]:
    return printed.replace("\r", "").split("LIST\n")[-1].partition("\nEND")[0].splitlines()


def _shuffled(names: list[str]) -> list[str]:
    return random.Random(len(names)).sample(names, len(names))

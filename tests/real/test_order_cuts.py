"""Power cuts while a folder gets its own order on kernel vfat: recovered, the reader shows one order."""

from __future__ import annotations

import json
import random
import shlex
import sys
from collections.abc import Callable

import practice_cards
import pytest
from fat_machine import FatMachine

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("orrery")))
WINDOW = 1.0
"""Seconds after a change has begun within which most of it is carried out."""


def _names(card: FatMachine) -> list[str]:
    """The menu as the device's reader lists it, in a machine of its own."""
    reader = str(practice_cards.FIXTURES / "readers" / "orrery.py")
    command = shlex.join([sys.executable, "-I", "-B", reader, "disk=/mnt/card/disk", "--json"])
    printed = card.run([f"echo SEEN; {command}; echo; echo END"]).replace("\r", "")
    seen = json.loads(printed.partition("SEEN\n")[2].partition("\nEND")[0])
    assert seen["problems"] == []
    return [entry["name"] for entry in seen["menus"][0]["entries"]]


@pytest.mark.parametrize("way", ["--forward", "--back"])
def test_a_card_pulled_while_an_order_is_set(way: str, fat: Callable[..., FatMachine]) -> None:
    """After fsck and recovery every name stands where it was, or where it was wanted; nothing is lost."""
    card = fat(("disk",), megabytes=48)
    card.fill(practice_cards.FIXTURES / "cards" / "orrery")
    before, start = card.read_tree(), _names(card)
    wanted = random.Random(9).sample(start, len(start))
    words = ("arrange", "/mnt/card", "--order", *wanted, "--yes", *PROFILE)
    program = shlex.join([sys.executable, "-B", "tests/real/announced.py", *words])
    moment = random.Random(way).uniform(0, WINDOW)
    card.run([f"PYTHONPATH=. {program} </dev/null"], kill_after=moment, at="BEGUN")
    card.repair()
    printed = card.run([card.command("recover", "/mnt/card", way, *PROFILE)])
    assert "EXIT 0" in printed, printed
    was_begun = "unfinished" not in printed and "nothing had been changed" not in printed
    order = _names(card)
    assert order in (start, wanted), printed
    if was_begun:
        assert order == (wanted if way == "--forward" else start), printed
    after = card.read_tree()
    if was_begun and way == "--forward":  # the change puts the list away that the device makes anew
        assert before["disk"].pop("almanac/index.cache")
    assert after == before
    card.check_clean()

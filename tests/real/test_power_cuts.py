"""Power cuts: the machine with the kernel's vfat is killed while it applies or undoes, at seeded moments.

After each cut the volumes are mended as a careful person would (`fsck.vfat -a` until it finds nothing), the
change is recovered forward or back, and the card must be exactly as after or before it. Without fsck it
has to read so all the same, though FAT may then count clusters as free that are not.
"""

from __future__ import annotations

import random
import shlex
import sys
from collections.abc import Callable

import practice_cards
import pytest
from fat_machine import FatMachine

pytestmark = pytest.mark.real

PROFILE = ("--profile", str(practice_cards.profile_path("larkspur")))
RENAME = ("rename", "/mnt/card", "Boats", "zz Boats & Sails", "--yes", *PROFILE)
AIMED_IN_CI = range(300, 304)
AIMED_WINDOW = 1.0
"""Seconds after a change has begun within which most of it is carried out."""

WINDOW = 2.4
"""Seconds after GO within which the guest's command runs, start-up included."""


def _cut(
    card: FatMachine, words: tuple[str, ...], seed: int, start: dict, end: dict, is_aimed: bool
) -> tuple[str, bool]:
    """One cut and one recovery: what the card turned out to be, and whether the change had begun."""
    chance = random.Random(seed)
    if is_aimed:
        _pull(card, words, chance)
    else:
        card.run([card.command(*words)], kill_after=chance.uniform(0.2, WINDOW))
    way = chance.choice(("--forward", "--back"))
    card.repair()
    printed = card.run([card.command("recover", "/mnt/card", way, *PROFILE)])
    assert "EXIT 0" in printed, printed
    now = card.read_tree()
    was_begun = "unfinished" not in printed and "nothing had been changed" not in printed
    assert now in (start, end), f"seed {seed} {way}: {printed}\n{_differences(now, start, end)}"
    if was_begun:
        assert now == (end if way == "--forward" else start), printed
    card.check_clean()
    return ("end" if now == end else "start"), was_begun


def _pull(card: FatMachine, words: tuple[str, ...], chance: random.Random) -> None:
    """Run a command line and cut the power in the middle of its change."""
    program = shlex.join([sys.executable, "-B", "tests/real/announced.py", *words])
    aimed = f"PYTHONPATH=. {program} </dev/null"
    card.run([aimed], kill_after=chance.uniform(0, AIMED_WINDOW), at="BEGUN")


def _differences(now: dict, start: dict, end: dict) -> str:
    return "\n".join(
        f"{volume}/{name}: {now[volume].get(name)} not {start[volume].get(name)} or {end[volume].get(name)}"
        for volume in now
        for name in sorted({*now[volume], *start[volume], *end[volume]})
        if now[volume].get(name) not in (start[volume].get(name), end[volume].get(name))
    )


def _cuts(fat: Callable[..., FatMachine], seeds: range, *, is_aimed: bool = False) -> list[str]:
    card = fat(("data", "system"), megabytes=48)
    card.fill(practice_cards.FIXTURES / "cards" / "larkspur")
    start = card.read_tree()
    card.run([card.command(*RENAME)])
    end = card.read_tree()
    assert start != end
    outcomes = []
    at_end = True
    for seed in seeds:
        words = ("undo", "/mnt/card", "--yes", *PROFILE) if at_end else RENAME
        outcome, was_begun = _cut(card, words, seed, *((end, start) if at_end else (start, end)), is_aimed)
        at_end = (outcome == "start") if at_end else (outcome == "end")
        outcomes.append(f"{outcome}, recovered" if was_begun else outcome)
    return outcomes


def test_a_pulled_card_comes_back_whole(fat: Callable[..., FatMachine]) -> None:
    """A seeded few in every run."""
    assert len(_cuts(fat, range(4))) == 4


def test_a_card_pulled_while_a_change_is_carried_out_comes_back_whole(fat: Callable[..., FatMachine]) -> None:
    """Four aimed at the middle of a change in every run; some of them must have hit it."""
    assert any("recovered" in outcome for outcome in _cuts(fat, AIMED_IN_CI, is_aimed=True))


@pytest.mark.sweep
@pytest.mark.parametrize("block", range(6))
def test_many_pulled_cards_come_back_whole(block: int, fat: Callable[..., FatMachine]) -> None:
    """Sixty cuts in apply and in undo."""
    outcomes = _cuts(fat, range(100 + block * 10, 110 + block * 10))
    print(f"block {block}: {outcomes}")
    assert len(outcomes) == 10


@pytest.mark.sweep
@pytest.mark.parametrize("block", range(6))
def test_cards_pulled_while_a_change_is_carried_out_come_back_whole(
    block: int, fat: Callable[..., FatMachine]
) -> None:
    """Sixty more, aimed at the moment after a change has begun; some of each block must have hit it."""
    outcomes = _cuts(fat, range(200 + block * 10, 210 + block * 10), is_aimed=True)
    print(f"block {block}: {outcomes}")
    assert any("recovered" in outcome for outcome in outcomes)


@pytest.mark.sweep
@pytest.mark.parametrize("seed", range(400, 412))
def test_a_card_recovered_without_fsck_reads_whole(seed: int, fat: Callable[..., FatMachine]) -> None:
    """Whatever names a cut left; where the driver itself refuses, the message asks for fsck, which helps."""
    card = fat(("data", "system"), megabytes=48)
    card.fill(practice_cards.FIXTURES / "cards" / "larkspur")
    start = card.read_tree()
    card.run([card.command(*RENAME)])
    end = card.read_tree()
    card.run([card.command("undo", "/mnt/card", "--yes", *PROFILE)])
    chance = random.Random(seed)
    _pull(card, RENAME, chance)
    way = chance.choice(("--forward", "--back"))
    recover = [card.command("recover", "/mnt/card", way, *PROFILE)]
    printed = card.run(recover)
    if "EXIT 3" in printed:
        assert "let fsck mend" in printed.lower().replace("\r\n", ""), printed
        card.repair()
        printed = card.run(recover)
    assert "EXIT 0" in printed, printed
    now = card.read_tree()
    assert now in (start, end), f"{printed}\n{_differences(now, start, end)}"

"""The check on invented cards, where it finds no false error, and on hostile ones, which it bounds."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from pathlib import Path

import hostile
import pytest
from layouts import FIXED_SEEDS, make_layout
from surveying_layouts import survey_layout

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.profile_reader import read_profile
from workbench.jobs.check.checking import check_card
from workbench.jobs.check.finding import Finding
from workbench.jobs.survey import profile_text

HOUSE = Path(__file__).resolve().parents[2]
LOST_NAME = "Long Lost"
"""The layouts' own name for what a list goes on naming after it is gone."""
SECONDS = 100
MEMORY = 2 << 30


def check(room: Path, profile: str) -> tuple[Finding, ...]:
    (room / "profile.toml").write_text(profile, encoding="utf-8")
    read = read_profile(room / "profile.toml")
    card = open_card(str(room / "card"), [read], read)
    return check_card(DiskTree(card), read)


def judge(seed: int, room: Path, *, is_surveyed: bool) -> None:
    """Errors and warnings are only about the names that the layout made dead on purpose."""
    plan = make_layout(seed)
    plan.write(room / "card")
    profile = profile_text(survey_layout(plan, room / "card")) if is_surveyed else plan.profile
    found = check(room, profile)
    wrong = [one for one in found if one.level != "note" and LOST_NAME not in one.message]
    # A room of a layout may have no file in it, and folders without files are not written.
    empty = {thing.name for menu in plan.menus for thing in menu.things} - names_on(room / "card")
    assert [one for one in wrong if not any(repr(name) in one.message for name in empty)] == []


def names_on(folder: Path) -> set[str]:
    return {name for _, folders, files in os.walk(folder) for name in (*folders, *files)}


@pytest.mark.parametrize("seed", FIXED_SEEDS)
def test_no_false_errors_under_the_true_profile(seed: int, tmp_path: Path) -> None:
    """Whatever conventions a card has, what is right on it is not found wrong."""
    judge(seed, tmp_path, is_surveyed=False)


@pytest.mark.parametrize("seed", FIXED_SEEDS[:4])
def test_no_false_errors_under_a_surveyed_profile(seed: int, tmp_path: Path) -> None:
    """Nor under a profile that nobody wrote by hand."""
    judge(seed, tmp_path, is_surveyed=True)


@pytest.mark.sweep
@pytest.mark.parametrize("start", range(1000, 1200, 25))
def test_no_false_errors_over_many_seeds(start: int, tmp_path: Path) -> None:
    """The same over seeds that nobody picked."""
    for seed in range(start, start + 25):
        judge(seed, tmp_path / str(seed), is_surveyed=bool(seed % 2))


HOSTILE = """
schema = 1
name = "Honest"
[panel]
width = 320
height = 240
[volumes.main]
identify = ["trove/", "innards/roll.json"]
device_path = "/stow"
names = "exact"
[[menus]]
id = "trove"
root = "main:trove"
entries = "folders"
order = "bytes"
label = { file = "main:innards/roll.json", format = "json", at = "/hall/{entry}/wording", otherwise = "name" }
[[menus.references]]
file = "main:innards/*.json"
format = "json"
at = "/hall/{entry}"
[[menus.references]]
file = "main:innards/*.json"
format = "json"
at = "/hall/{row}/opens"
is = "{path}"
[[menus.references]]
file = "main:innards/*.json"
format = "json"
at = "/{entry}"
[[menus.references]]
file = "main:innards/*.list"
format = "lines"
is = "{path}"
[[menus.references]]
file = "main:innards/*.toml"
format = "toml"
at = "/{entry}"
[[menus.references]]
file = "main:innards/*.xml"
format = "xml"
at = "/a/0/#text"
is = "{path}"
[[menus.references]]
file = "main:innards/*.sh"
format = "shell"
is = "{path}"
[[menus.references]]
file = "main:innards/*.conf"
format = "keyvalue"
at = "/{entry}"
[[menus.pictures]]
kind = "icon"
path = "main:faces/{entry}.png"
size = [48, 48]
[[splash]]
moment = "start"
file = "main:dawn.bmp"
[[splash]]
moment = "charging"
file = "main:dusk.bmp.gz"
[[splash]]
moment = "shutdown"
file = "main:noon.bmp"
"""
"""Rules over everything that the attacks put on the card."""


QUICK = (
    hostile.circles,
    hostile.deep,
    hostile.odd_names,
    hostile.bombs,
    hostile.waiting,
    hostile.deep_folders,
)
SLOW = tuple(one for one in hostile.ATTACKS if one not in QUICK)


@pytest.mark.parametrize(
    "attack",
    [*QUICK, *(pytest.param(one, marks=pytest.mark.sweep) for one in SLOW)],
    ids=lambda one: one.__name__,
)
def test_a_hostile_card_is_checked_in_bounds(attack, tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """No crash, no wait without end, no control character on the terminal; a bounded number of findings."""
    card = hostile.lay_out_honest(tmp_path / "card")
    attack(card)
    profile = tmp_path / "hostile.toml"
    profile.write_text(HOSTILE, encoding="utf-8")
    words = [sys.executable, "-m", "workbench", "check", str(card), "--profile", str(profile), "--json"]
    try:
        ended = subprocess.run(words, cwd=HOUSE, capture_output=True, timeout=SECONDS, preexec_fn=_limit)
    finally:
        if attack is hostile.deep_folders:
            subprocess.run(["rm", "-rf", str(card)], check=True)
    assert b"Traceback" not in ended.stderr, ended.stderr[-3000:].decode(errors="replace")
    assert ended.returncode == 4, (ended.returncode, ended.stderr[-2000:])
    found = json.loads(ended.stdout)["findings"]
    assert 0 < len(found) < 400
    assert not {byte for byte in ended.stdout + ended.stderr if byte < 32} - {10}


def _limit() -> None:
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))

"""Routines: wishes as states, one change a card, run twice for nothing; and recorded from a history."""

from __future__ import annotations

import random
from pathlib import Path

import practice_cards
import pytest

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.menu import read_menus
from workbench.card.profile_reader import read_profile
from workbench.changes.apply import apply
from workbench.changes.brought import read_traces
from workbench.changes.plan import Plan
from workbench.changes.undo import plan_undo
from workbench.changes.wishes import record_wishes
from workbench.errors import CardwrightError, ProfileError
from workbench.jobs.arrange import plan_number, plan_order
from workbench.jobs.edit import plan_set
from workbench.jobs.entry import plan_copy, plan_hide, plan_remove
from workbench.jobs.label import plan_label
from workbench.jobs.rename import plan_rename
from workbench.jobs.routine.carrying import RefusedWishError, plan_routine
from workbench.jobs.routine.routine_file import (
    Routine,
    read_routine,
    wish_from_ledger,
    write_routine,
)
from workbench.jobs.splash import plan_blank, plan_put

HEAD = 'schema = 1\nname = "look"\n'
PICTURE = practice_cards.FIXTURES / "pictures" / "moon.png"


class Bench:
    """A practice card that routines are run on."""

    def __init__(self, device: str, folder: Path) -> None:
        self.folder = practice_cards.lay_out(device, folder)
        self.profile = read_profile(practice_cards.profile_path(device))
        self.card = open_card(str(self.folder), [self.profile], self.profile)

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def plan(self, routine: Routine) -> Plan:
        return plan_routine(self.tree, self.profile, routine, read_traces(self.card))

    def run(self, routine: Routine) -> int:
        """How many steps it took."""
        plan = self.plan(routine)
        assert not plan.conflicts, plan.conflicts
        if plan.steps:
            apply(self.card, plan)
        return len(plan.steps)

    def names(self, menu: int = 0) -> list[str]:
        return [entry.name for entry in read_menus(self.tree, self.profile)[menu].entries]


def routine(tmp_path: Path, text: str) -> Routine:
    file = tmp_path / "look.toml"
    file.write_text(HEAD + text, encoding="utf-8")
    return read_routine(file)


@pytest.fixture
def larkspur(tmp_path: Path) -> Bench:
    return Bench("larkspur", tmp_path / "card")


WISHES = {
    "rename": 'do = "rename"\nentry = "Boats"\nto = "Ferries"',
    "first": 'do = "arrange"\nfirst = ["Moss", "*Walk"]',
    "last": 'do = "arrange"\nlast = ["!first light"]',
    "number": 'do = "arrange"\nnumber = true',
    "label": 'do = "label"\nentry = "Boats"\ntext = "Ferries & Co"',
    "icon": f'do = "icon"\nentry = "Boats"\npicture = "{PICTURE}"',
    "add": 'do = "add"\nentry = "Brand New"',
    "copy": 'do = "copy"\nentry = "Boats"\nto = "More Boats"',
    "hide": 'do = "hide"\nentry = "Boats"',
    "remove": 'do = "remove"\nentry = "Boats"',
    "blank": 'do = "splash"\nblank = true\nbackground = "#102030"',
    "put": f'do = "splash"\npicture = "{PICTURE}"\nfit = "cover"',
    "set": 'do = "set"\nfile = "data:house/register.json"\nat = "/motion"\nvalue = "none at all"',
}


@pytest.mark.parametrize("name", WISHES)
def test_a_wish_is_a_state(larkspur, tmp_path, name):
    """Carried out once it does something; run again it comes to nothing."""
    asked = routine(tmp_path, f"[[wishes]]\n{WISHES[name]}\n")
    assert larkspur.run(asked) > 0
    assert larkspur.run(asked) == 0


def test_all_wishes_are_one_change_and_fit_each_other(larkspur, tmp_path):
    """Each is planned on the card as those before it leave it; again it does nothing; undo takes all back."""
    before = practice_cards.tree_bytes(larkspur.folder)
    text = "".join(
        f"[[wishes]]\n{one}\n"
        for one in (
            WISHES["rename"],
            'do = "arrange"\nfirst = ["Ferries", "*Walk"]',
            'do = "label"\nentry = "Ferries"\ntext = "Ferries & Co"',
            WISHES["blank"],
        )
    )
    asked = routine(tmp_path, text)
    assert larkspur.run(asked) > 3
    assert [name.split(" ", 1)[-1] for name in larkspur.names()[:2]] == ["Ferries", "Morning Walk"]
    assert larkspur.run(asked) == 0
    assert not practice_cards.read_device("larkspur", larkspur.folder)["problems"]
    apply(larkspur.card, plan_undo(larkspur.card, 1))
    assert practice_cards.tree_bytes(larkspur.folder) == before


def test_a_wish_that_cannot_be_had_names_its_line(larkspur, tmp_path):
    """Nothing of the routine is planned."""
    asked = routine(tmp_path, '[[wishes]]\ndo = "rename"\nentry = "Nobody"\nto = "X"\n')
    with pytest.raises(RefusedWishError, match=r"wish 1 \(line 3, rename Nobody\)"):
        larkspur.plan(asked)


@pytest.mark.parametrize(
    ("text", "line", "word"),
    [
        ('[[wishes]]\ndo = "renam"\n', 4, "Did you mean 'rename'"),
        ('[[wishes]]\ndo = "rename"\nentry = "A"\n', 3, "to"),
        ('[[wishes]]\ndo = "rename"\nentry = "A"\nto = "B"\nfrom = "C"\n', 7, "from is not a key"),
        ('[[wishes]]\ndo = "arrange"\n', 4, "exactly one of"),
        ('[[wishes]]\ndo = "splash"\n', 4, "picture or blank"),
        ('[[wishes]]\ndo = "hide"\nentry = 7\n', 5, "a text in quotes"),
        ("", 0, "wishes"),
        ("x = \n", 0, "no TOML"),
    ],
)
def test_a_wrong_routine_says_where_and_what_is_allowed(tmp_path, text, line, word):
    """As profiles do."""
    with pytest.raises(ProfileError) as raised:
        routine(tmp_path, text)
    assert word in raised.value.message
    assert not line or raised.value.line == line


def test_paths_start_at_the_routines_own_folder(tmp_path, larkspur):
    """So that a routine travels with its pictures."""
    (tmp_path / "look").mkdir()
    (tmp_path / "look/own.png").write_bytes(PICTURE.read_bytes())
    file = tmp_path / "look/r.toml"
    file.write_text(HEAD + '[[wishes]]\ndo = "splash"\npicture = "own.png"\n')
    assert larkspur.run(read_routine(file)) > 0


def _wander(bench: Bench, chance: random.Random) -> None:
    """One random act of a person."""
    tree, profile = bench.tree, bench.profile
    menu = chance.choice(read_menus(tree, profile))
    entry = chance.choice(menu.entries)
    suffix = entry.name[len(entry.stem) :]
    acts = {
        "rename": lambda: plan_rename(
            tree, profile, menu, entry, f"Neu & {chance.randrange(99)} [{entry.stem[:9].strip()}]{suffix}"
        ),
        "order": lambda: plan_order(
            tree, profile, menu, chance.sample([one.name for one in menu.entries], len(menu.entries))
        ),
        "number": lambda: plan_number(tree, profile, menu),
        "label": lambda: plan_label(tree, profile, menu, entry, f"Ein „Wort“ {chance.randrange(99)}"),
        "copy": lambda: plan_copy(tree, profile, menu, entry, f"Copy {chance.randrange(99)}{suffix}"),
        "hide": lambda: plan_hide(tree, profile, menu, entry),
        "remove": lambda: plan_remove(tree, profile, menu, entry),
        "blank": lambda: plan_blank(tree, profile, ("start",), f"#{chance.randrange(1 << 24):06x}"),
        "put": lambda: plan_put(tree, profile, ("start",), PICTURE, fit="stretch"),
    }
    try:
        plan = acts[chance.choice(sorted(acts))]()
    except CardwrightError:
        return
    if plan.steps and not plan.conflicts:
        apply(bench.card, plan)


@pytest.mark.parametrize("device", ["larkspur", "fernway"])
@pytest.mark.parametrize("seed", range(2))
def test_a_recorded_history_gives_the_same_card_elsewhere(tmp_path, device, seed):
    """Random acts, some taken back; the routine made of them, through its file, on a fresh copy."""
    record_and_compare(tmp_path, device, seed)


@pytest.mark.sweep
@pytest.mark.parametrize("device", ["larkspur", "fernway"])
@pytest.mark.parametrize("seed", range(2, 22))
def test_many_recorded_histories(tmp_path, device, seed):
    """The same, more often."""
    record_and_compare(tmp_path, device, seed)


def record_and_compare(tmp_path: Path, device: str, seed: int) -> None:
    chance = random.Random(seed)
    first, second = Bench(device, tmp_path / "one"), Bench(device, tmp_path / "two")
    for _ in range(5):
        _wander(first, chance)
    found = record_wishes(first.card)
    assert not found.left
    wishes = [wish_from_ledger(one) for one in found.wishes]
    assert None not in wishes
    file = tmp_path / "recorded.toml"
    file.write_text(write_routine("recorded", wishes, [], tmp_path), encoding="utf-8")  # type: ignore[arg-type]
    second.run(read_routine(file))
    assert practice_cards.tree_bytes(second.folder) == practice_cards.tree_bytes(first.folder)


def test_what_was_taken_back_is_not_recorded(larkspur):
    """Nor is the undo of it; what no routine can say is told."""
    menu = read_menus(larkspur.tree, larkspur.profile)[0]
    apply(larkspur.card, plan_rename(larkspur.tree, larkspur.profile, menu, menu.entries[3], "Gone"))
    apply(larkspur.card, plan_undo(larkspur.card, 1))
    apply(
        larkspur.card,
        Plan("Something by hand", plan_blank(larkspur.tree, larkspur.profile, ("start",)).steps),
    )
    found = record_wishes(larkspur.card)
    assert found.wishes == [] and found.left == ["change 3: Something by hand"]


def test_edits_of_manifests_are_recorded(larkspur):
    """With their place and value."""
    from workbench.card.paths import VolumePath

    at = VolumePath("data", "house/register.json")
    apply(larkspur.card, plan_set(larkspur.tree, larkspur.profile, at, "/motion", "x y"))
    assert record_wishes(larkspur.card).wishes == [
        {"do": "set", "file": str(at), "at": "/motion", "value": "x y"}
    ]

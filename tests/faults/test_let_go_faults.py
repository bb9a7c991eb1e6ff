"""Letting go of kept copies is hit at every call: each change is either whole or said to be let go."""

from __future__ import annotations

import random
import shutil
from pathlib import Path

import pytest
from fault_runs import FAULTS, Call, Scene, copy_card, list_calls, open_card, run, strike
from fault_scenes import lay_out, plan_of, state_of
from test_crashes import room as room  # the same folder in memory

from workbench.changes.apply import apply
from workbench.changes.ledger import read_history
from workbench.changes.let_go import choose_all_but, let_go, plan_letting_go
from workbench.changes.recover import find_unfinished
from workbench.changes.undo import plan_undo
from workbench.errors import LedgerError

pytestmark = pytest.mark.skipif(shutil.which("strace") is None, reason="needs strace")

CALLS = "openat,write,pwrite64,unlink,unlinkat,rmdir,fsync,fdatasync,renameat,mkdirat"
PART = 4


def set_up(room: Path) -> tuple[Scene, list[dict[str, tuple[int, bytes]]]]:
    """Two changes on two volumes; the card before each, and the calls that letting go of both makes."""
    folder = room / "start"
    lay_out(folder)
    befores = [state_of(folder)]
    for name in ("two", "mixed"):
        apply(open_card(folder), plan_of(name, open_card(folder)))
        befores.append(state_of(folder))
    trial, log = copy_card(folder, room / "card"), room / "log"
    done = run(trial, "let-go", "-y", "-o", str(log), "-e", f"trace={CALLS}")
    assert done.returncode == 0, done.stderr
    assert not copies(trial)
    calls = list_calls(log, trial)
    return Scene("let-go", folder, befores[-1], befores[-1], calls), befores


def copies(folder: Path) -> list[Path]:
    """Files that the ledger keeps."""
    found = [*folder.glob("*/.cardwright/changes/*/kept.pack")]
    return found + [path for path in folder.glob("*/.cardwright/changes/*/kept/**/*") if path.is_file()]


def judge(scene: Scene, befores: list[dict[str, tuple[int, bytes]]], card: Path, code: int) -> str:
    """The card is untouched; what is not said to be let go comes back whole; the rest can be removed."""
    assert state_of(card) == scene.start
    assert find_unfinished(open_card(card)) is None
    gone = [change.let_go for change in read_history(open_card(card))]
    if code == 0:
        assert gone == [True, True] and not copies(card)
        return "gone"
    whole = copy_card(card, card.with_name("whole"))
    # The first goes first: where it is whole the second is, too.
    for number in (2, 1):
        if any(gone[number - 1 :]):
            break
        apply(open_card(whole), plan_undo(open_card(whole), number))
        assert state_of(whole) == befores[number - 1]
    try:
        let_go(plan_letting_go(open_card(card), choose_all_but(0)))
    except LedgerError:
        assert all(gone)
    assert not copies(card) and state_of(card) == scene.start
    return f"{sum(gone)} of 2"


def hit(
    scene: Scene, befores: list[dict[str, tuple[int, bytes]]], fault: str, calls: list[Call], room: Path
) -> None:
    found = []
    for call in calls:
        try:
            found.append(judge(scene, befores, *strike(scene, call, fault, room)))
        except AssertionError as error:
            raise AssertionError(f"{fault} at {call}: {error}") from error
    print(f"let go {fault}: {len(found)} calls hit; { ({one: found.count(one) for one in set(found)}) }")


@pytest.mark.parametrize("fault", FAULTS)
def test_some_calls_of_letting_go_hit(fault: str, room: Path) -> None:
    """A seeded few."""
    scene, befores = set_up(room)
    hit(scene, befores, fault, random.Random(fault).sample(scene.calls, PART), room)


@pytest.mark.sweep
@pytest.mark.parametrize("fault", FAULTS)
def test_every_call_of_letting_go_hit(fault: str, room: Path) -> None:
    """All of them."""
    scene, befores = set_up(room)
    assert len(scene.calls) >= 15
    hit(scene, befores, fault, list(scene.calls), room)

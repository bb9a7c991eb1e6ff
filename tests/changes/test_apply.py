"""Plans are carried out as they say, keep what they replace, and refuse before the first byte."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from changes_card import make_card, place, snapshot

from workbench.changes.apply import CancelledError, apply
from workbench.changes.ledger import read_history
from workbench.changes.plan import MakeFolder, Move, Plan, Prepared, Remove, Write, digest
from workbench.changes.recover import find_unfinished
from workbench.errors import CardwrightError, PreflightError


def test_each_kind_of_step_does_what_it_says(tmp_path: Path) -> None:
    """Write, make folder, move and remove in one change; what is taken away lies in the ledger's keep."""
    card = make_card(tmp_path, {"a.txt": b"one", "b/c.txt": b"two", "d": b"three"})
    plan = Plan(
        "All four",
        (
            Write(place("a.txt"), b"ONE", digest(b"one")),
            MakeFolder(place("new")),
            Move(place("b"), place("new/b")),
            Remove(place("d")),
            Write(place("new/e"), b"five", None),
        ),
    )
    change = apply(card, plan)
    assert snapshot(tmp_path) == {
        "a.txt": b"ONE",
        "new": None,
        "new/b": None,
        "new/b/c.txt": b"two",
        "new/e": b"five",
    }
    assert change.number == 1 and change.state == "done" and change.bytes_kept > 0
    assert find_unfinished(card) is None
    assert [one.title for one in read_history(card)] == ["All four"]


def test_a_replaced_script_stays_executable(tmp_path: Path) -> None:
    """The mode of a replaced file goes over to its new content."""
    card = make_card(tmp_path, {"begin": b"#!/bin/sh\n"})
    os.chmod(tmp_path / "begin", 0o750)
    apply(card, Plan("Edit", (Write(place("begin"), b"#!/bin/sh\n:\n", digest(b"#!/bin/sh\n")),)))
    assert (tmp_path / "begin").stat().st_mode & 0o777 == 0o750


def test_swaps_and_circles_go_through_the_passing_place(tmp_path: Path) -> None:
    """A and B change names; a folder goes into what was inside it."""
    card = make_card(tmp_path, {"a": b"A", "b": b"B", "p/q/r": b"R"})
    aside = place(".cardwright/aside/1")
    swap = (Move(place("a"), aside), Move(place("b"), place("a")), Move(aside, place("b")))
    inside_out = (Move(place("p/q"), place("q")), Move(place("p"), place("q/p")))
    apply(card, Plan("Swap", swap + inside_out))
    assert snapshot(tmp_path) == {"a": b"B", "b": b"A", "q": None, "q/p": None, "q/r": b"R"}


def test_a_file_written_twice_gets_its_last_content(tmp_path: Path) -> None:
    """Two wishes merged into one plan write one manifest twice and then its folder is renamed."""
    card = make_card(tmp_path, {"x/m": b"1"})
    steps = (
        Write(place("x/m"), b"2", digest(b"1")),
        Write(place("x/m"), b"3", digest(b"2")),
        Move(place("x"), place("y")),
    )
    apply(card, Plan("Twice", steps))
    assert snapshot(tmp_path) == {"y": None, "y/m": b"3"}


def test_prepared_content_is_checked_by_its_hash(tmp_path: Path) -> None:
    """A render that changed since the plan was made is refused and nothing is left behind."""
    root = tmp_path / "card"
    card = make_card(root, {"a": b"A"})
    render = tmp_path / "render"
    render.write_bytes(b"picture")
    good = Prepared(str(render), 7, digest(b"picture"))
    apply(card, Plan("Put", (Write(place("p"), good, None),)))
    assert snapshot(root)["p"] == b"picture"
    render.write_bytes(b"changed")
    with pytest.raises(PreflightError):
        apply(card, Plan("Again", (Write(place("p2"), good, None),)))
    assert "p2" not in snapshot(root) and len(read_history(card)) == 1


@pytest.mark.parametrize(
    "step",
    [
        Write(place("a"), b"x", digest(b"other")),
        Write(place("a"), b"x", None),
        Write(place("gone"), b"x", digest(b"x")),
        Write(place("folder"), b"x", digest(b"x")),
        Write(place("link/x"), b"x", None),
        Write(place("nowhere/x"), b"x", None),
        Write(place(".cardwright/changes/x"), b"x", None),
        Move(place("gone"), place("b")),
        Move(place("a"), place("folder")),
        Move(place("folder"), place("folder/in")),
        Move(place("a"), place(".cardwright/aside/1")),
        Remove(place("gone")),
        Remove(place(".cardwright")),
        MakeFolder(place("folder")),
        MakeFolder(place("bad:name")),
        MakeFolder(place("Aux")),
        Write(place("A"), b"x", None),
    ],
)
def test_a_failing_precondition_leaves_the_card_untouched(
    tmp_path: Path, step: Write | Move | Remove | MakeFolder
) -> None:
    """What a step needs is checked before the first byte: no ledger is made for a refused plan."""
    root = tmp_path / "card"
    card = make_card(root, {"a": b"A", "folder/f": b"F"})
    (root / "link").symlink_to(tmp_path)
    before = snapshot(root)
    with pytest.raises(CardwrightError):
        apply(card, Plan("Refused", (step,)))
    assert snapshot(root) == before
    assert not (root / ".cardwright").exists()


def test_a_cancelled_plan_leaves_nothing(tmp_path: Path) -> None:
    """Cancel is heeded while content is staged, and takes away the ledger that was being made."""
    card = make_card(tmp_path, {"a": b"A"})
    asked = []

    def cancelled() -> bool:
        asked.append(1)
        return len(asked) > 1

    steps = tuple(Write(place(f"n{n}"), b"x", None) for n in range(3))
    with pytest.raises(CancelledError):
        apply(card, Plan("Stop", steps), cancelled=cancelled)
    assert snapshot(tmp_path) == {"a": b"A"}
    assert not (tmp_path / ".cardwright").exists()


def test_a_read_only_volume_is_refused(tmp_path: Path) -> None:
    """A volume that is mounted read-only is said to be so before anything is tried."""
    card = make_card(tmp_path, {"a": b"A"}, read_only=True)
    with pytest.raises(PreflightError, match="read-only"):
        apply(card, Plan("No", (Remove(place("a")),)))


def test_a_link_is_moved_and_removed_as_itself(tmp_path: Path) -> None:
    """Links keep their target, and what they point at stays."""
    card = make_card(tmp_path, {"t": b"T"})
    (tmp_path / "l").symlink_to("t")
    (tmp_path / "m").symlink_to("t")
    apply(card, Plan("Links", (Move(place("l"), place("n")), Remove(place("m")))))
    assert os.readlink(tmp_path / "n") == "t"
    assert not (tmp_path / "m").is_symlink() and (tmp_path / "t").read_bytes() == b"T"

"""Undo takes back exactly what a change did, through later changes, or names what stands in the way."""

from __future__ import annotations

import itertools
import os
from pathlib import Path

import pytest
from changes_card import make_card, place, snapshot, snapshot_modes

from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.kept import kept_versions
from workbench.changes.ledger import read_history
from workbench.changes.plan import Edit, MakeFolder, Move, Plan, Remove, Write, digest
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError, ConflictError, LedgerError

MANIFEST = b"""{
  // what stands on the shelf
  "things": {
    "Alpha": {"says": "one"},
    "Beta":  {"says": "two"},
    "Gamma": {"says": "three"}
  }
}
"""


def plan_rename(root: Path, old: str, new: str) -> Plan:
    """A folder and the key that names it."""
    raw = (root / "list.json").read_bytes()
    start = raw.index(f'"{old}"'.encode()) + 1
    edit = Edit(start, start + len(old), new.encode())
    content = raw[:start] + new.encode() + raw[start + len(old) :]
    steps = (
        Write(place("list.json"), content, digest(raw), (edit,)),
        Move(place(f"shelf/{old}"), place(f"shelf/{new}")),
    )
    return Plan(f"Rename {old} to {new}", steps)


def make_shelf(root: Path) -> Card:
    files: dict[str, bytes | None] = {"list.json": MANIFEST}
    files |= {f"shelf/{name}/begin": name.encode() for name in ("Alpha", "Beta", "Gamma")}
    return make_card(root, files)


@pytest.mark.parametrize("first", [1, 2])
def test_two_renames_in_one_manifest_are_taken_back_in_both_orders(tmp_path: Path, first: int) -> None:
    """A hand edit elsewhere in the manifest, made between them, is all that stays."""
    card = make_shelf(tmp_path)
    start = snapshot(tmp_path)
    apply(card, plan_rename(tmp_path, "Alpha", "Aleph"))
    (tmp_path / "list.json").write_bytes((tmp_path / "list.json").read_bytes().replace(b'"three"', b'"drei"'))
    apply(card, plan_rename(tmp_path, "Beta", "Beth"))
    apply(card, plan_undo(card, first))
    named = b'"Aleph"' if first == 2 else b'"Beth"'
    assert named in (tmp_path / "list.json").read_bytes()
    apply(card, plan_undo(card, 3 - first))
    start["list.json"] = MANIFEST.replace(b'"three"', b'"drei"')
    assert snapshot(tmp_path) == start


def test_an_undo_is_taken_back_like_any_change(tmp_path: Path) -> None:
    """Undo of an undo is the change again, byte for byte; the first is said to be undone meanwhile."""
    card = make_shelf(tmp_path)
    start = snapshot(tmp_path)
    apply(card, plan_rename(tmp_path, "Alpha", "Aleph"))
    renamed = snapshot(tmp_path)
    apply(card, plan_undo(card, 1))
    assert [change.undone_by for change in read_history(card)] == [2, None]
    with pytest.raises(LedgerError, match="taken back by change 2"):
        plan_undo(card, 1)
    apply(card, plan_undo(card, 2))
    assert snapshot(tmp_path) == renamed
    assert [change.undone_by for change in read_history(card)] == [None, 3, None]
    apply(card, plan_undo(card, 3))
    assert snapshot(tmp_path) == start


def test_everything_that_a_change_did_comes_back(tmp_path: Path) -> None:
    """Removed folders with their modes, replaced files, made folders, new files, swaps."""
    card = make_card(tmp_path, {"a": b"A", "b": b"B", "gone/x/y": b"Y", "m/f": b"F", "s": b"#!/bin/sh\n"})
    os.chmod(tmp_path / "s", 0o755)
    os.chmod(tmp_path / "gone/x/y", 0o600)
    start, modes = snapshot(tmp_path), snapshot_modes(tmp_path)
    aside = place(".cardwright/aside/1")
    steps = (
        Move(place("a"), aside),
        Move(place("b"), place("a")),
        Move(aside, place("b")),
        Remove(place("gone")),
        MakeFolder(place("made")),
        Move(place("m"), place("made/m")),
        Write(place("made/m/f"), b"G", digest(b"F")),
        Write(place("made/new"), b"N", None),
        Write(place("s"), b"#!/bin/sh\n:\n", digest(b"#!/bin/sh\n"), mode=0o644),
        MakeFolder(place("m")),
    )
    apply(card, Plan("Much", steps))
    assert snapshot(tmp_path) != start
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path) == start
    assert snapshot_modes(tmp_path) == modes


def test_places_are_followed_through_later_moves(tmp_path: Path) -> None:
    """A file written in a folder that a later change renames gets its old bytes under the new name."""
    card = make_card(tmp_path, {"x/f": b"1", "x/g": b"G"})
    apply(card, Plan("Write", (Write(place("x/f"), b"2", digest(b"1")), Move(place("x/g"), place("x/h")))))
    apply(card, Plan("Move", (Move(place("x"), place("y")),)))
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path) == {"y": None, "y/f": b"1", "y/g": b"G"}


def test_a_conflict_names_its_cause(tmp_path: Path) -> None:
    """What a later change, or somebody else, wrote over is not lost by an undo."""
    card = make_card(tmp_path, {"f": b"1", "g": b"1"})
    steps = (Write(place("f"), b"2", digest(b"1")), Write(place("g"), b"2", digest(b"1")))
    apply(card, Plan("First", steps))
    apply(card, Plan("Second", (Write(place("f"), b"3", digest(b"2")),)))
    with pytest.raises(ConflictError, match="change 2, Second"):
        plan_undo(card, 1)
    (tmp_path / "f").write_bytes(b"4")
    (tmp_path / "g").write_bytes(b"5")
    with pytest.raises(ConflictError, match="an edit outside Cardwright"):
        plan_undo(card, 2)


def test_what_holds_its_old_content_already_is_no_conflict(tmp_path: Path) -> None:
    """A device that wrote its list back at exit, or a person, has undone that part; the rest follows."""
    card = make_shelf(tmp_path)
    start = snapshot(tmp_path)
    apply(card, plan_rename(tmp_path, "Alpha", "Aleph"))
    (tmp_path / "list.json").write_bytes(MANIFEST)
    plan = plan_undo(card, 1)
    assert [type(step) for step in plan.steps] == [Move]
    assert any("list.json" in note for note in plan.notes)
    apply(card, plan)
    assert snapshot(tmp_path) == start


def test_the_parts_without_conflict_can_be_taken_back(tmp_path: Path) -> None:
    """`partial` leaves what conflicts, lists it, and says so in the title."""
    card = make_card(tmp_path, {"f": b"1", "g": b"1"})
    steps = (Write(place("f"), b"2", digest(b"1")), Write(place("g"), b"2", digest(b"1")))
    apply(card, Plan("Both", steps))
    (tmp_path / "f").write_bytes(b"by hand")
    plan = plan_undo(card, 1, partial=True)
    assert "in part" in plan.title and len(plan.conflicts) == 1
    apply(card, plan)
    assert snapshot(tmp_path) == {"f": b"by hand", "g": b"1"}


def test_a_change_and_all_after_it_are_taken_back_as_one(tmp_path: Path) -> None:
    """Also where an undo lies among them."""
    card = make_card(tmp_path, {"a": b"1", "d/x": b"X"})
    start = snapshot(tmp_path)
    apply(card, Plan("One", (Write(place("a"), b"2", digest(b"1")), Remove(place("d")))))
    apply(card, Plan("Two", (Move(place("a"), place("b")),)))
    apply(card, plan_undo(card, 2))
    apply(card, Plan("Three", (Write(place("a"), b"3", digest(b"2")), Write(place("n"), b"N", None))))
    apply(card, plan_undo(card, 1, after_too=True))
    assert snapshot(tmp_path) == start


def test_what_was_taken_out_of_a_folder_before_it_was_removed_comes_back(tmp_path: Path) -> None:
    """Moved, emptied in part and removed in one change: the folder comes back with all that was in it."""
    card = make_card(tmp_path, {"f/x": b"X", "f/e/y": b"Y", "h": None})
    start = snapshot(tmp_path)
    steps = (Move(place("f"), place("h/a")), Remove(place("h/a/e")), Remove(place("h/a")))
    apply(card, Plan("Take away", steps))
    end = snapshot(tmp_path)
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path) == start
    apply(card, plan_undo(card, 2))
    assert snapshot(tmp_path) == end


def test_what_was_rewritten_and_removed_since_comes_back_with_the_later_change(tmp_path: Path) -> None:
    """Taken back together, each change is undone on what the ones after it leave."""
    card = make_card(tmp_path, {"f/y": b"Y", "h": None})
    start = snapshot(tmp_path)
    apply(card, Plan("One", (Move(place("f"), place("h/a")), Write(place("h/a/y"), b"A", digest(b"Y")))))
    steps = (Write(place("h/a/y"), b"B", digest(b"A")), Remove(place("h/a/y")), Move(place("h"), place("i")))
    apply(card, Plan("Two", steps))
    apply(card, plan_undo(card, 1, after_too=True))
    assert snapshot(tmp_path) == start


def test_a_folder_that_was_filled_meanwhile_stays(tmp_path: Path) -> None:
    """A folder that the change made is not taken away with what others put into it."""
    card = make_card(tmp_path, {"a": b"A"})
    apply(card, Plan("Make", (MakeFolder(place("m")), Move(place("a"), place("m/a")))))
    (tmp_path / "m/theirs").write_bytes(b"T")
    plan = plan_undo(card, 1)
    apply(card, plan)
    assert snapshot(tmp_path) == {"a": b"A", "m": None, "m/theirs": b"T"}
    assert any("not empty" in note for note in plan.notes)


def test_every_earlier_content_can_be_read_back(tmp_path: Path) -> None:
    """Small and large contents of one file, found under its later name too."""
    contents = [b"first", b"second" * 10, os.urandom(5 * 2**20), b"last"]
    card = make_card(tmp_path, {"s.bmp": contents[0]})
    for old, new in itertools.pairwise(contents):
        apply(card, Plan("Put", (Write(place("s.bmp"), new, digest(old)),)))
    apply(card, Plan("Move", (Move(place("s.bmp"), place("t.bmp")),)))
    kept = kept_versions(card, place("t.bmp"))
    assert [version.number for version in kept] == [1, 2, 3]
    assert [version.read() for version in kept] == contents[:3]
    assert [version.sha256 for version in kept] == [digest(content) for content in contents[:3]]
    apply(card, plan_undo(card, 3))
    assert (tmp_path / "t.bmp").read_bytes() == contents[2]


def test_nothing_to_undo_is_said(tmp_path: Path) -> None:
    """An unknown number is refused in a sentence."""
    card = make_card(tmp_path, {"a": b"A"})
    with pytest.raises(CardwrightError, match="no change 7"):
        plan_undo(card, 7)


def manifest_edit(card_root: Path, old: bytes, new: bytes) -> Write:
    raw = (card_root / "list.json").read_bytes()
    start = raw.index(old)
    content = raw.replace(old, new, 1)
    return Write(place("list.json"), content, digest(raw), (Edit(start, start + len(old), new),))


@pytest.mark.parametrize(
    ("first", "then", "line"),
    [
        (("Alpha", "Aleph"), (b'"Aleph"', b'"Alif"'), 4),
        (("Gamma", "Gimel"), (b'"Gimel": {"says": "three"}', b'"Gaml": 3'), 6),
    ],
)
def test_a_conflict_in_a_manifest_has_its_line(
    tmp_path: Path, first: tuple[str, str], then: tuple[bytes, bytes], line: int
) -> None:
    """The line of the present text that is in the way, by whoever wrote it."""
    card = make_shelf(tmp_path)
    apply(card, plan_rename(tmp_path, *first))
    apply(card, Plan("Then", (manifest_edit(tmp_path, *then),)))
    with pytest.raises(ConflictError, match="change 2, Then") as refused:
        plan_undo(card, 1)
    assert refused.value.line == line
    assert [one.line for one in plan_undo(card, 1, partial=True).conflicts] == [line]


def test_a_conflict_in_a_file_that_was_written_whole_has_its_line(tmp_path: Path) -> None:
    """The first line that is not as the change left it; a picture has no lines."""
    card = make_card(tmp_path, {"a.txt": b"1\n2\n3\n", "p": b"\0\1\2"})
    steps = (
        Write(place("a.txt"), b"1\n2\n3\n4\n", digest(b"1\n2\n3\n")),
        Write(place("n.txt"), b"x\ny\n", None),
        Write(place("p"), b"\0\1\3", digest(b"\0\1\2")),
    )
    apply(card, Plan("Three", steps))
    (tmp_path / "a.txt").write_bytes(b"1\n2\nthree\n4\n")
    (tmp_path / "n.txt").write_bytes(b"x\n")
    (tmp_path / "p").write_bytes(b"\0\1\4")
    with pytest.raises(ConflictError):
        plan_undo(card, 1)
    (tmp_path / "p").write_bytes(b"\0\1\3")
    lines = {str(one.at): one.line for one in plan_undo(card, 1, partial=True).conflicts}
    assert lines == {"data:a.txt": 3, "data:n.txt": 1}


def test_an_undo_that_would_leave_a_malformed_manifest_names_the_line(tmp_path: Path) -> None:
    """A mend is not taken back out of a manifest that somebody has worked on since."""
    card = make_card(tmp_path, {"list.json": b'{\n"a": 1\n"b": 2\n}\n'})
    apply(card, Plan("Mend", (manifest_edit(tmp_path, b"1\n", b"1,\n"),)))
    (tmp_path / "list.json").write_bytes(b'{\n"a": 1,\n"b": 22\n}\n')
    with pytest.raises(ConflictError, match="would be malformed") as refused:
        plan_undo(card, 1)
    assert refused.value.line == 3

"""Letting go of kept copies frees them for good, is marked first, and leaves what needs no copy undoable."""

from __future__ import annotations

import os
import time
from pathlib import Path

import pytest
from changes_card import card_of, make_card, make_volume, place, snapshot

from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.kept import kept_versions
from workbench.changes.ledger import read_history
from workbench.changes.let_go import (
    choose_all_but,
    choose_before,
    choose_named,
    choose_older,
    let_go,
    plan_letting_go,
)
from workbench.changes.plan import Edit, Move, Plan, Prepared, Remove, Write, digest
from workbench.changes.undo import plan_undo
from workbench.changes.waiting_plans import forget_waiting, save_waiting
from workbench.errors import ConflictError, LedgerError, PreflightError

real_gmtime = time.gmtime
LIST = b'{"Alpha": 1, "Beta": 2}\n'


def edit(path: str, raw: bytes, old: bytes, new: bytes) -> Write:
    start = raw.index(old)
    made = Edit(start, start + len(old), new)
    return Write(place(path), raw.replace(old, new, 1), digest(raw), (made,))


def rename(raw: bytes = LIST) -> Plan:
    """An edited manifest and a moved file: nothing that only a kept copy can bring back."""
    return Plan("Rename", (edit("list.json", raw, b"Alpha", b"Aleph"), Move(place("Alpha"), place("Aleph"))))


def make(root: Path) -> Card:
    files: dict[str, bytes | None] = {"list.json": LIST, "Alpha": b"A", "s.bmp": b"old" * 99}
    return make_card(root, {**files, "gone/deep/x": b"X", "gone/y": b"Y"})


def release(card: Card, *numbers: int) -> int:
    return let_go(plan_letting_go(card, choose_named(numbers)))


def kept_files(root: Path) -> list[str]:
    found = (path for path in (root / ".cardwright").rglob("*") if path.is_file())
    return sorted(path.name for path in found if path.name not in ("plan.json", "marks", "volume.toml"))


def test_a_rename_can_be_taken_back_without_its_copies(tmp_path: Path) -> None:
    """Moves need none, and the edits stand in plan.json: byte for byte the start."""
    card = make(tmp_path)
    start = snapshot(tmp_path)
    apply(card, rename())
    shown = plan_letting_go(card, choose_named([1]))
    assert shown.bytes_freed > 0 and "can still be taken back" in shown.farewells[0].consequence
    assert let_go(shown) == shown.bytes_freed
    assert kept_files(tmp_path) == [] and [change.let_go for change in read_history(card)] == [True]
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path) == start


def test_own_edits_are_taken_back_around_a_hand_edit(tmp_path: Path) -> None:
    """The hand edit stays though no copy of the manifest is there any more."""
    card = make(tmp_path)
    apply(card, rename())
    release(card, 1)
    (tmp_path / "list.json").write_bytes(b'{"Aleph": 1, "Beta": 22, "More": 3}\n')
    apply(card, plan_undo(card, 1))
    assert (tmp_path / "list.json").read_bytes() == b'{"Alpha": 1, "Beta": 22, "More": 3}\n'
    assert (tmp_path / "Alpha").exists()


def test_edits_on_edits_are_taken_back_level_by_level(tmp_path: Path) -> None:
    """Two wishes of one plan that touch one manifest."""
    card = make(tmp_path)
    once = LIST.replace(b"Alpha", b"Aleph", 1)
    steps = (edit("list.json", LIST, b"Alpha", b"Aleph"), edit("list.json", once, b"ph", b"PH"))
    apply(card, Plan("Twice", steps))
    release(card, 1)
    apply(card, plan_undo(card, 1))
    assert (tmp_path / "list.json").read_bytes() == LIST


def test_what_only_the_copy_could_bring_back_is_named(tmp_path: Path) -> None:
    """Undo says why it cannot, and takes back the rest when asked to."""
    card = make(tmp_path)
    put = Write(place("s.bmp"), b"new", digest(b"old" * 99))
    apply(card, Plan("Much", (*rename().steps, put, Remove(place("gone")))))
    shown = plan_letting_go(card, choose_named([1]))
    assert [str(one) for one in shown.farewells[0].lost] == ["data:s.bmp", "data:gone"]
    assert "in part only, without data:s.bmp, data:gone" in shown.farewells[0].consequence
    let_go(shown)
    with pytest.raises(ConflictError, match="let go") as refused:
        plan_undo(card, 1)
    assert "2 of its 4 parts can still be taken back" in refused.value.message
    apply(card, plan_undo(card, 1, partial=True))
    now = snapshot(tmp_path)
    assert now["list.json"] == LIST and "Alpha" in now and now["s.bmp"] == b"new" and "gone" not in now


def test_a_change_with_nothing_left_to_take_back_says_so(tmp_path: Path) -> None:
    """The sentence names the let go copies, not an edit of somebody's."""
    card = make(tmp_path)
    apply(card, Plan("Put", (Write(place("s.bmp"), b"new", digest(b"old" * 99)),)))
    shown = plan_letting_go(card, choose_named([1]))
    assert "not be taken back any more (data:s.bmp)" in shown.farewells[0].consequence
    let_go(shown)
    for partial in (False, True):
        with pytest.raises(ConflictError, match="kept copies were let go"):
            plan_undo(card, 1, partial=partial)


def test_a_kept_splash_that_was_let_go_is_listed_and_said_to_be_so(tmp_path: Path) -> None:
    """The versions of other changes can still be read."""
    card = make(tmp_path)
    for old, new in ((b"old" * 99, b"second"), (b"second", b"third")):
        apply(card, Plan("Put", (Write(place("s.bmp"), new, digest(old)),)))
    release(card, 1)
    first, second = kept_versions(card, place("s.bmp"))
    assert (first.let_go, second.let_go) == (True, False)
    assert second.read() == b"second"
    with pytest.raises(LedgerError, match="let go"):
        first.read()


@pytest.mark.parametrize(
    ("choose", "left"),
    [(choose_before(3), [3, 4]), (choose_all_but(1), [4]), (choose_all_but(9), [1, 2, 3, 4])],
)
def test_changes_are_chosen_by_number(tmp_path: Path, choose: object, left: list[int]) -> None:
    """Before a number, or all but the last few; none chosen is refused."""
    assert callable(choose)
    card = make(tmp_path)
    for number in range(4):
        apply(card, Plan("Put", (Write(place("Alpha"), b"%d" % number, digest(_read(tmp_path / "Alpha"))),)))
    try:
        let_go(plan_letting_go(card, choose))
    except LedgerError:
        assert len(left) == 4
    assert [change.number for change in read_history(card) if not change.let_go] == left


def _read(path: Path) -> bytes:
    return path.read_bytes()


def test_a_change_that_keeps_nothing_is_passed_over(tmp_path: Path) -> None:
    """Asked for alone it is refused with the reason; a second time too."""
    card = make(tmp_path)
    apply(card, Plan("Move", (Move(place("Alpha"), place("Beta")),)))
    with pytest.raises(LedgerError, match="it keeps nothing"):
        release(card, 1)
    apply(card, Plan("Put", (Write(place("s.bmp"), b"new", digest(b"old" * 99)),)))
    shown = plan_letting_go(card, choose_named([1, 2]))
    assert [one.number for one in shown.farewells] == [2] and shown.passed_over[0][0] == 1
    let_go(shown)
    with pytest.raises(LedgerError, match="were let go before"):
        release(card, 2)
    with pytest.raises(LedgerError, match="no change 7"):
        release(card, 7)


@pytest.mark.parametrize("how", ["move", "prepared"])
def test_what_a_waiting_plan_needs_is_not_let_go(tmp_path: Path, how: str) -> None:
    """A plan that waits in the user's state folder moves or writes something out of the keep."""
    card = make(tmp_path)
    apply(card, Plan("Remove", (Remove(place("gone")),)))
    keep = next((tmp_path / ".cardwright/changes").glob("0001-*")) / "kept"
    thing = next(keep.iterdir())
    inner = place(str(thing.relative_to(tmp_path)))
    step = Move(inner, place("back"))
    prepared = Write(place("new"), Prepared(str(thing / "y"), 1, digest(b"Y")), None)
    save_waiting(card, [Plan("Back", (step if how == "move" else prepared,))])
    with pytest.raises(LedgerError, match="a plan that waits"):
        release(card, 1)
    forget_waiting(card)
    assert release(card, 1) > 0


def test_what_changed_since_it_was_shown_is_not_removed(tmp_path: Path) -> None:
    """The person agreed to something else."""
    card = make(tmp_path)
    apply(card, Plan("Remove", (Remove(place("gone")),)))
    shown = plan_letting_go(card, choose_named([1]))
    next((tmp_path / ".cardwright/changes").glob("*/kept/*/y")).write_bytes(b"longer")
    with pytest.raises(PreflightError, match="not what was shown"):
        let_go(shown)
    assert not read_history(card)[0].let_go


def test_a_volume_that_is_away_keeps_its_part(tmp_path: Path) -> None:
    """No change is let go in halves while one of its volumes is in a drawer."""
    card = card_of(
        make_volume(tmp_path / "d", {"a": b"A"}), make_volume(tmp_path / "s", {"b": b"B"}, "system")
    )
    steps = (Write(place("a"), b"1", digest(b"A")), Write(place("system:b"), b"2", digest(b"B")))
    apply(card, Plan("Both", steps))
    with pytest.raises(LedgerError, match="volume system is not here"):
        release(card_of(card.volumes["data"]), 1)
    release(card, 1)
    assert kept_files(tmp_path / "d") == kept_files(tmp_path / "s") == []


def test_links_in_the_keep_go_as_links(tmp_path: Path) -> None:
    """What they lead to outside is not touched."""
    outside = tmp_path / "outside"
    outside.mkdir()
    (outside / "mine").write_bytes(b"M")
    card = make(tmp_path / "card")
    os.symlink(outside, tmp_path / "card/gone/link")
    apply(card, Plan("Remove", (Remove(place("gone")),)))
    release(card, 1)
    assert (outside / "mine").read_bytes() == b"M"
    assert kept_files(tmp_path / "card") == []


def test_an_undo_can_be_undone_after_the_first_change_was_let_go(tmp_path: Path) -> None:
    """The undo took the thing out of the keep; taking that back puts it away again, into its own."""
    card = make(tmp_path)
    start = snapshot(tmp_path)
    apply(card, Plan("Much", (Write(place("s.bmp"), b"new", digest(b"old" * 99)), Remove(place("gone")))))
    apply(card, plan_undo(card, 1))
    release(card, 1)
    assert snapshot(tmp_path) == start
    apply(card, plan_undo(card, 2))
    assert (tmp_path / "s.bmp").read_bytes() == b"new" and not (tmp_path / "gone").exists()
    apply(card, plan_undo(card, 3))
    assert snapshot(tmp_path) == start


def test_a_read_only_volume_keeps_everything(tmp_path: Path) -> None:
    """Refused before the mark."""
    card = make(tmp_path)
    apply(card, Plan("Remove", (Remove(place("gone")),)))
    locked = make_card(tmp_path, {}, read_only=True)
    with pytest.raises(PreflightError, match="read-only"):
        release(locked, 1)
    assert not read_history(card)[0].let_go


def test_a_clock_that_was_wrong_lets_no_later_change_go_first(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The second of three was written with a clock years behind; it is not older than the first."""
    card = make(tmp_path)
    now, old = time.time(), b"A"
    for number, days in enumerate((10, 4000, 1)):
        with monkeypatch.context() as patched:
            patched.setattr("time.gmtime", lambda _=None, days=days: real_gmtime(now - days * 86400))
            apply(card, Plan("Put", (Write(place("Alpha"), b"%d" % number, digest(old)),)))
        old = b"%d" % number
    for limit, numbers in ((20, []), (5, [1, 2]), (0, [1, 2, 3])):
        try:
            chosen = plan_letting_go(card, choose_older(limit)).farewells
        except LedgerError:
            chosen = ()
        assert [one.number for one in chosen] == numbers


def test_a_later_change_in_the_way_is_not_put_down_to_letting_go(tmp_path: Path) -> None:
    """What needs no copy is in the way of nothing but that later change, and that is said."""
    card = make(tmp_path)
    apply(card, rename())
    release(card, 1)
    now = (tmp_path / "list.json").read_bytes()
    apply(card, Plan("Later", (edit("list.json", now, b"Aleph", b"Alif"), Remove(place("Aleph")))))
    with pytest.raises(ConflictError, match="change 2, Later") as refused:
        plan_undo(card, 1)
    assert "let go" not in refused.value.message

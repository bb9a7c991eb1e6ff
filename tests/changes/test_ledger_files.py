"""The ledger's files check themselves: packs, marks, records, locks, and room counted in whole units."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

import pytest
from changes_card import card_of, make_card, make_volume, place, snapshot
from hypothesis import given
from hypothesis import strategies as st

from workbench.changes.apply import apply
from workbench.changes.ground import Flush, Ground
from workbench.changes.ledger import open_grounds, read_history
from workbench.changes.lock import hold_volumes
from workbench.changes.marks import RECORD_BYTES, make_marks, put_mark, read_state
from workbench.changes.pack import read_packed, write_pack
from workbench.changes.plan import MakeFolder, Move, Plan, Remove, Write, digest
from workbench.changes.preflight import preflight
from workbench.changes.space import Room, Sizes, count_need, count_reserve, show_bytes
from workbench.errors import CardError, LedgerError, PreflightError


@pytest.fixture
def ground(tmp_path: Path) -> Iterator[Ground]:
    with Ground("data", tmp_path, fat=False) as opened:
        yield opened


def test_a_pack_gives_back_what_it_took(ground: Ground, tmp_path: Path) -> None:
    """Empty, small, and large contents; a damaged one is said to be so and hides no other."""
    contents = {1: b"", 2: b"x" * 99, 3: os.urandom(70_000)}
    flush = Flush()
    index = write_pack(ground, "pack", contents.items(), flush)
    flush.run()
    assert {number: read_packed(ground, "pack", index[number]) for number in index} == contents
    raw = bytearray((tmp_path / "pack").read_bytes())
    raw[index[3].offset + 1000] ^= 1
    (tmp_path / "pack").write_bytes(bytes(raw))
    assert read_packed(ground, "pack", index[2]) == contents[2]
    with pytest.raises(LedgerError, match="damaged"):
        read_packed(ground, "pack", index[3])


def test_marks_never_grow_and_the_last_one_counts(ground: Ground, tmp_path: Path) -> None:
    """Each state is written in place; a record that does not check is not there."""
    flush = Flush()
    make_marks(ground, "marks", "0001-abcdef", flush)
    flush.run()
    size = (tmp_path / "marks").stat().st_size
    for state in ("begun", "done"):
        put_mark(ground, "marks", "0001-abcdef", "begun" if state == "begun" else "done")
        assert read_state(ground, "marks", "0001-abcdef") == state
    assert (tmp_path / "marks").stat().st_size == size
    assert read_state(ground, "marks", "0002-abcdef") is None
    raw = bytearray((tmp_path / "marks").read_bytes())
    raw[2 * RECORD_BYTES + 3] ^= 1
    (tmp_path / "marks").write_bytes(bytes(raw))
    assert read_state(ground, "marks", "0001-abcdef") == "begun"


def test_one_writer_at_a_time(tmp_path: Path) -> None:
    """A second Cardwright on this host is refused, under any path to the same volume; later it may."""
    card = make_card(tmp_path / "card", {"a": b"A"})
    (tmp_path / "alias").symlink_to(tmp_path / "card")
    alias = card_of(make_volume(tmp_path / "alias", {}))
    with (
        open_grounds(card.present) as grounds,
        hold_volumes(grounds.values()),
        pytest.raises(CardError, match="another Cardwright"),
    ):
        apply(alias, Plan("No", (Remove(place("a")),)))
    apply(alias, Plan("Yes", (Remove(place("a")),)))


def test_numbers_go_on_over_the_volumes_that_are_here(tmp_path: Path) -> None:
    """One row of numbers for the card; both volumes of a change bear it."""
    card = card_of(
        make_volume(tmp_path / "d", {"a": b"A"}), make_volume(tmp_path / "s", {"b": b"B"}, "system")
    )
    apply(card, Plan("One", (MakeFolder(place("x")),)))
    apply(card, Plan("Two", (MakeFolder(place("system:x")),)))
    apply(card, Plan("Three", (MakeFolder(place("y")), MakeFolder(place("system:y")))))
    assert [change.number for change in read_history(card)] == [1, 2, 3]


def test_a_link_is_never_written_through(tmp_path: Path) -> None:
    """A folder that became a link after the plan was made: nothing is written outside the volume."""
    outside = tmp_path / "outside"
    outside.mkdir()
    card = make_card(tmp_path / "card", {"f/a": b"A"})
    plan = Plan("Write", (Write(place("f/new"), b"N", None), Write(place("f/a"), b"B", digest(b"A"))))
    (tmp_path / "card/f/a").unlink()
    (tmp_path / "card/f").rmdir()
    (outside / "a").write_bytes(b"A")
    (tmp_path / "card/f").symlink_to(outside)
    with pytest.raises(PreflightError):
        apply(card, plan)
    assert snapshot(outside) == {"a": b"A"}


# Room


def test_a_plan_that_does_not_fit_is_refused_before_the_first_byte(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence says what is needed, what is free, and what kept copies would give."""
    card = make_card(tmp_path, {"a": b"A"})
    apply(card, Plan("First", (Write(place("a"), b"B" * 9000, digest(b"A")),)))
    before = snapshot(tmp_path)
    monkeypatch.setattr("workbench.changes.preflight.read_room", lambda _: Room(100_000, 4096))
    with pytest.raises(PreflightError, match=r"97\.7 KiB are free.*[Kk]ept copies"):
        apply(card, Plan("Big", (Write(place("b"), b"x" * 90_000, None),)))
    assert snapshot(tmp_path) == before and len(read_history(card)) == 1


def test_preflight_writes_nothing_and_says_what_it_takes(tmp_path: Path) -> None:
    """Each volume's need, at least the new bytes in whole units."""
    card = make_card(tmp_path, {"a": b"A"})
    survey = preflight(
        card, Plan("Put", (Write(place("b"), b"x" * 10_000, None), Move(place("a"), place("c"))))
    )
    need = survey.needs["data"]
    assert need.staged >= 10_000 and need.total > need.staged
    assert not (tmp_path / ".cardwright").exists()


@pytest.mark.parametrize(
    ("size", "unit", "taken"),
    # standards of both file systems: a file takes whole allocation units, an empty one none
    [
        (0, 4096, 0),
        (1, 4096, 4096),
        (32_768, 32_768, 32_768),
        (32_769, 32_768, 65_536),
        (921_654, 131_072, 1_048_576),
    ],
)
def test_room_is_counted_in_whole_units(size: int, unit: int, taken: int) -> None:
    """FAT and exFAT give whole clusters."""
    assert Room(0, unit).round(size) == taken


@given(st.lists(st.tuples(st.integers(0, 300_000), st.integers(0, 300_000)), max_size=12))
def test_the_reserve_is_enough_to_go_back_file_by_file(pairs: list[tuple[int, int]]) -> None:
    """Writing each old file and freeing the new one it replaces never needs more than the reserve, and a
    recovery forward from there does not either."""
    room = Room(0, 32_768)
    sizes = Sizes((), tuple(pairs), (), 0, 0, 0)
    free = count_reserve(room, sizes)
    for taken, freed in [*reversed(pairs), *((new, old) for old, new in pairs)]:
        free -= room.round(taken)
        assert free >= 0
        free += room.round(freed)
    assert count_need("data", room, sizes).total >= count_reserve(room, sizes)


def test_sizes_are_shown_for_a_person() -> None:
    """In binary multiples."""
    assert [show_bytes(count) for count in (5, 2048, 3 * 2**20, 2**31)] == [
        "5 bytes",
        "2.0 KiB",
        "3.0 MiB",
        "2.0 GiB",
    ]

"""What a full card cannot keep is kept in a folder of this computer, checked before anything is replaced."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from changes_card import make_card, place, snapshot, snapshot_modes

from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.host_keep import HostKeep, drop_copies
from workbench.changes.kept import kept_versions
from workbench.changes.ledger import read_history
from workbench.changes.let_go import choose_named, plan_letting_go
from workbench.changes.plan import Edit, MakeFolder, Move, Plan, Remove, Write, digest
from workbench.changes.record import Record
from workbench.changes.recover import recover
from workbench.changes.space import Room
from workbench.changes.undo import plan_undo
from workbench.errors import (
    ConflictError,
    FullVolumeError,
    LedgerError,
    PreflightError,
    UnfinishedChangeError,
)
from workbench.values import replace

LIST = b'{"Alpha": 1, "Beta": 2}\n'
SPLASH = os.urandom(60_000)
LARGE = os.urandom(20_000)


@pytest.fixture
def keep(tmp_path: Path) -> Path:
    """A folder of this computer that is not there yet."""
    return tmp_path / "host" / "kept here"


@pytest.fixture
def full(monkeypatch: pytest.MonkeyPatch) -> Callable[[int], None]:
    """`full(free)`: the card has only so many bytes left, given out in units of 4,096; files over 8,000 bytes
    are too large for the pack."""

    def set_room(free: int) -> None:
        monkeypatch.setattr("workbench.changes.preflight.read_room", lambda _: Room(free, 4096))
        monkeypatch.setattr("workbench.changes.preflight.PACKED_BYTES", 8_000)

    return set_room


def make(root: Path) -> Card:
    files: dict[str, bytes | None] = {"list.json": LIST, "Alpha": b"A", "s.bmp": SPLASH, "big": LARGE}
    card = make_card(root / "card", {**files, "gone/deep/x": b"X" * 3000, "gone/y": b"Y", "gone/empty": None})
    os.chmod(root / "card/gone/y", 0o600)
    return card


def much() -> Plan:
    """Every kind of kept copy: a packed one, whole ones, an edited manifest, a removed folder."""
    start = LIST.index(b"Alpha")
    edit = Edit(start, start + 5, b"Aleph")
    return Plan(
        "Much",
        (
            Write(place("list.json"), LIST.replace(b"Alpha", b"Aleph"), digest(LIST), (edit,)),
            Move(place("Alpha"), place("Aleph")),
            Write(place("s.bmp"), SPLASH[::-1], digest(SPLASH)),
            Write(place("big"), b"small", digest(LARGE)),
            Remove(place("gone")),
            MakeFolder(place("made")),
        ),
    )


FREE = 240_000
"""Too little with the copies on the card, enough without."""


def test_a_full_card_is_refused_and_told_of_keep_on(tmp_path: Path, full: Callable[[int], None]) -> None:
    """The refusal says what would help; nothing was written."""
    card = make(tmp_path)
    full(FREE)
    with pytest.raises(FullVolumeError, match="With --keep-on FOLDER") as refused:
        apply(card, much())
    assert refused.value.keep_on_helps
    assert not (tmp_path / "card/.cardwright").exists()


def test_it_says_so_where_keep_on_would_not_help(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """Neither before nor after it was asked for; the folder is not even made."""
    card = make(tmp_path)
    full(30_000)
    with pytest.raises(FullVolumeError, match="Free some space") as refused:
        apply(card, much())
    assert not refused.value.keep_on_helps
    with pytest.raises(FullVolumeError, match="though its copies would be kept on this computer"):
        apply(card, much(), keep_on=keep)
    assert not keep.exists() and not (tmp_path / "card/.cardwright").exists()


def test_the_copies_go_to_the_folder_and_undo_finds_them(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """Nothing of them stays on the card; undo brings back every byte, name and mode of a file."""
    card = make(tmp_path)
    start, modes = snapshot(tmp_path / "card"), snapshot_modes(tmp_path / "card")
    full(FREE)
    change = apply(card, much(), keep_on=keep)
    assert change.kept_on == str(keep / f"kept-{change.id}") and change.bytes_kept == 0
    assert read_history(card)[0].kept_on == change.kept_on and read_history(card)[0].is_keep_here
    own = next((tmp_path / "card/.cardwright/changes").iterdir())
    assert sorted(one.name for one in own.iterdir()) == ["kept", "marks", "plan.json"]
    assert list((own / "kept").iterdir()) == []
    assert "Much" in (keep / f"kept-{change.id}/about.txt").read_text()
    plan = plan_undo(card, 1)
    assert any("comes back from" in note for note in plan.notes)
    full(10_000_000)
    apply(card, plan)
    assert snapshot(tmp_path / "card") == start
    assert snapshot_modes(tmp_path / "card") == modes
    apply(card, plan_undo(card, 2))
    assert not (tmp_path / "card/gone").exists() and (tmp_path / "card/big").read_bytes() == b"small"


def test_a_card_with_room_keeps_its_own(tmp_path: Path, keep: Path) -> None:
    """The folder is only for what does not fit."""
    card = make(tmp_path)
    change = apply(card, much(), keep_on=keep)
    assert change.kept_on == "" and change.bytes_kept > 0 and not keep.exists()


def test_without_the_folder_undo_says_where_it_was(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """Refused with nothing changed; what needs no copy can be taken back; named anew, all of it can."""
    card = make(tmp_path)
    start = snapshot(tmp_path / "card")
    full(FREE)
    change = apply(card, much(), keep_on=keep)
    full(10_000_000)
    elsewhere = tmp_path / "elsewhere"
    keep.rename(elsewhere)
    changed = snapshot(tmp_path / "card")
    with pytest.raises(ConflictError, match="which is not here") as refused:
        plan_undo(card, 1)
    assert change.kept_on in refused.value.message and "--keep-on FOLDER" in refused.value.message
    assert "3 of its 6 parts" in refused.value.message
    assert snapshot(tmp_path / "card") == changed and not read_history(card)[0].is_keep_here
    part = plan_undo(card, 1, partial=True)
    assert {str(conflict.at) for conflict in part.conflicts} == {"data:s.bmp", "data:big", "data:gone"}
    for named in (elsewhere, elsewhere / f"kept-{change.id}"):
        assert not plan_undo(card, 1, keep_on=named).conflicts
    apply(card, plan_undo(card, 1, keep_on=elsewhere))
    assert snapshot(tmp_path / "card") == start


def test_a_damaged_copy_is_refused_by_name(tmp_path: Path, keep: Path, full: Callable[[int], None]) -> None:
    """One flipped bit in any file of the folder, and the card is as it was."""
    card = make(tmp_path)
    full(FREE)
    apply(card, much(), keep_on=keep)
    full(10_000_000)
    changed = snapshot(tmp_path / "card")
    files = [path for path in keep.rglob("*") if path.is_file() and path.name != "about.txt"]
    assert len(files) == 5
    for path in files:
        raw = path.read_bytes()
        at = min(3, len(raw) - 1)  # in the pack: the manifest, its first content
        path.write_bytes(raw[:at] + bytes([raw[at] ^ 1]) + raw[at + 1 :])
        with pytest.raises((LedgerError, PreflightError)):
            apply(card, plan_undo(card, 1))
        assert snapshot(tmp_path / "card") == changed
        path.write_bytes(raw)
    apply(card, plan_undo(card, 1))


def test_kept_versions_are_read_from_the_folder(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """A replaced splash and a removed file; without the folder it says where they were."""
    card = make(tmp_path)
    full(FREE)
    apply(card, Plan("Put", (*much().steps[2:4], Remove(place("gone/y")))), keep_on=keep)
    for path, content in (("s.bmp", SPLASH), ("big", LARGE), ("gone/y", b"Y")):
        (version,) = kept_versions(card, place(path))
        assert version.read() == content
    keep.rename(tmp_path / "elsewhere")
    with pytest.raises(LedgerError, match="is not there"):
        kept_versions(card, place("s.bmp"))[0].read()


def test_a_removed_folder_with_a_link_stays_on_the_card(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """No copy on another file system can stand for a link; undo takes it from the card's own keep."""
    card = make(tmp_path)
    (tmp_path / "card/gone/link").symlink_to("y")
    start = snapshot(tmp_path / "card")
    full(FREE)
    apply(card, much(), keep_on=keep)
    kept = next((tmp_path / "card/.cardwright/changes").glob("*/kept"))
    assert len(list(kept.iterdir())) == 1
    full(10_000_000)
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path / "card") == start


def test_a_folder_comes_home_before_what_was_removed_out_of_it(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """The inner one from the host, the outer one from the card: it was not whole when it was removed."""
    card = make(tmp_path)
    start = snapshot(tmp_path / "card")
    full(FREE)
    big = Write(place("big"), b"small", digest(LARGE))
    steps = (
        big,
        much().steps[2],
        Remove(place("gone/deep")),
        Remove(place("gone")),
        MakeFolder(place("gone")),
    )
    assert apply(card, Plan("In turn", steps), keep_on=keep).kept_on
    full(10_000_000)
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path / "card") == start


@pytest.mark.parametrize("where", ["card", "card/sub", "card/.cardwright/keep", "alias"])
def test_a_folder_on_the_card_itself_is_refused(tmp_path: Path, where: str) -> None:
    """By any path to it."""
    card = make(tmp_path)
    (tmp_path / "alias").symlink_to(tmp_path / "card")
    with pytest.raises(PreflightError, match="on the card itself"):
        apply(card, much(), keep_on=tmp_path / where)
    assert not (tmp_path / "card/.cardwright").exists()


def test_a_file_is_no_folder(tmp_path: Path) -> None:
    """Refused before anything is read."""
    card = make(tmp_path)
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(PreflightError, match="no folder that you may write to"):
        apply(card, much(), keep_on=tmp_path / "file")


def test_what_the_host_refuses_leaves_card_and_folder_as_they_were(
    tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The sentence names the folder, not the card."""
    card = make(tmp_path)
    full(FREE)

    def refuse(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("workbench.changes.host_keeping._copy_file", refuse)
    with pytest.raises(PreflightError, match=r"kept in .*kept here.*No space left"):
        apply(card, much(), keep_on=keep)
    assert list(keep.iterdir()) == [] and not (tmp_path / "card/.cardwright").exists()


def test_a_copy_that_reads_back_otherwise_stops_before_anything_is_replaced(
    tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A host disk that lies."""
    card = make(tmp_path)
    before = snapshot(tmp_path / "card")
    full(FREE)
    from workbench.changes.host_keeping import HostKeeping

    real = HostKeeping.flush_folders

    def spoil(self: HostKeeping) -> None:
        real(self)
        victim = max((path for path in keep.rglob("*") if path.is_file()), key=lambda one: one.stat().st_size)
        victim.write_bytes(victim.read_bytes()[:-1] + b"!")

    monkeypatch.setattr(HostKeeping, "flush_folders", spoil)
    with pytest.raises(LedgerError, match="not what it was"):
        apply(card, much(), keep_on=keep)
    assert snapshot(tmp_path / "card") == before and not (tmp_path / "card/.cardwright").exists()
    assert list(keep.iterdir()) == []


def test_there_is_nothing_to_let_go_on_the_card(
    tmp_path: Path, keep: Path, full: Callable[[int], None]
) -> None:
    """The refusal says where the copies are."""
    card = make(tmp_path)
    full(FREE)
    apply(card, much(), keep_on=keep)
    with pytest.raises(LedgerError, match="not on the card"):
        plan_letting_go(card, choose_named([1]))


# Cut off


class _CutError(BaseException):
    """Not an error that anything handles."""


def cut_at(monkeypatch: pytest.MonkeyPatch, where: str, after: int = 0) -> None:
    """The program ends at the given call of that function."""
    import importlib

    module, _, name = where.rpartition(".")
    real = getattr(importlib.import_module(f"workbench.changes.{module}"), name)
    calls: list[int] = []

    def cut(*args: object, **named: object) -> object:
        calls.append(1)
        if len(calls) > after:
            raise _CutError
        return real(*args, **named)

    monkeypatch.setattr(f"workbench.changes.{where}", cut)


def begin(card: Card, keep: Path, monkeypatch: pytest.MonkeyPatch, where: str, after: int = 0) -> None:
    with monkeypatch.context() as patched:
        cut_at(patched, where, after)
        with pytest.raises(_CutError):
            apply(card, much(), keep_on=keep)


def test_without_the_folder_a_recovery_goes_where_it_can(
    tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everything is moved, nothing is marked done: back needs the copies and says where they are; forward
    does not, and once they are named anew back works too."""
    card = make(tmp_path)
    start = snapshot(tmp_path / "card")
    full(FREE)
    begin(card, keep, monkeypatch, "apply.set_orders")
    with pytest.raises(UnfinishedChangeError, match="read-only"):
        recover(make_card(tmp_path / "card", {}, read_only=True), "back")
    moved = snapshot(tmp_path / "card")
    keep.rename(tmp_path / "elsewhere")
    with pytest.raises(UnfinishedChangeError, match="that folder is not here") as refused:
        recover(card, "back")
    assert str(keep) in refused.value.message and refused.value.exit_code == 3
    assert snapshot(tmp_path / "card") == moved
    other = tmp_path / "other"
    shutil.copytree(tmp_path / "card", other / "card", symlinks=True)
    copied = make_card(other / "card", {})
    recover(copied, "forward")
    assert (other / "card/Aleph").exists() and not (other / "card/gone").exists()
    recover(card, "back", keep_on=tmp_path / "elsewhere")
    assert snapshot(tmp_path / "card") == start
    assert not list((tmp_path / "elsewhere").iterdir())


def test_before_anything_was_replaced_the_folder_is_not_needed(
    tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Both ways, with it gone for good."""
    card = make(tmp_path)
    start = snapshot(tmp_path / "card")
    full(FREE)
    begin(card, keep, monkeypatch, "apply.Settling")
    shutil.rmtree(keep)
    shutil.copytree(tmp_path / "card", tmp_path / "other/card", symlinks=True)
    recover(card, "back")
    assert snapshot(tmp_path / "card") == start
    copied = make_card(tmp_path / "other/card", {})
    recover(copied, "forward")
    assert (tmp_path / "other/card/s.bmp").read_bytes() == SPLASH[::-1]


@pytest.mark.parametrize("after", [0, 1])
def test_a_handing_over_that_was_cut_off_is_no_matter(
    after: int, tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half of the removed folder may lie in the keep; undo takes the whole one from the host."""
    card = make(tmp_path)
    start = snapshot(tmp_path / "card")
    full(FREE)
    begin(card, keep, monkeypatch, "handing_over.remove_tree")
    half = next((tmp_path / "card/.cardwright/changes").glob("*/kept/*"))
    if after:
        (half / "y").unlink()
    full(10_000_000)
    apply(card, plan_undo(card, 1))
    assert snapshot(tmp_path / "card") == start


def test_what_never_began_leaves_nothing_in_the_folder_either(
    tmp_path: Path, keep: Path, full: Callable[[int], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed with everything prepared: the next change clears both."""
    card = make(tmp_path)
    full(FREE)
    with monkeypatch.context() as patched:
        cut_at(patched, "apply._begin")
        with pytest.raises(_CutError):
            apply(card, much(), keep_on=keep)
    assert list(keep.iterdir())
    full(10_000_000)
    apply(card, Plan("Other", (Remove(place("big")),)))
    assert not list(keep.iterdir()) and [change.number for change in read_history(card)] == [1]


def test_a_folder_named_on_a_card_is_removed_only_if_it_is_ours(tmp_path: Path) -> None:
    """A forged record cannot make us take away what lies on this computer."""
    record = Record("0001-abcdef", 1, "x", "", (), {}, {"data": ""}, ())
    for name, about in (("precious", True), ("kept-0001-abcdef", False)):
        folder = tmp_path / name
        (folder / "volume-1").mkdir(parents=True)
        if about:
            (folder / "about.txt").write_bytes(b"")
        drop_copies(replace(record, kept_on={"data": HostKeep(str(folder / "volume-1"))}))
        assert folder.is_dir()
    with pytest.raises(ValueError, match="leads elsewhere"):
        HostKeep.from_json([str(tmp_path), [[1, "../x", 1, "00", 420]]])

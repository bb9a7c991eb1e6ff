"""States that no kill produces: what power cuts leave on FAT, volumes that are missing, cloned or apart.

The FAT states follow the order of updates in the Linux vfat and exFAT drivers (`vfat_rename`,
`exfat_rename_file`): after a cut a moved name may be old, new, both or neither.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from pathlib import Path

import fault_scenes
import pytest
from fault_runs import copy_card, end_with, open_card
from fault_scenes import plan_of, state_of

import workbench.changes.apply as applying
from workbench.changes import moved_copies
from workbench.changes.apply import apply
from workbench.changes.ledger import find_damaged, open_grounds, read_history
from workbench.changes.marks import put_mark
from workbench.changes.plan import MakeFolder, Move, Plan, Remove, Write, digest
from workbench.changes.recover import find_unfinished, recover
from workbench.changes.settle import Settling
from workbench.changes.undo import plan_undo
from workbench.errors import CardwrightError, UnfinishedChangeError

Cut = Callable[[Path, str], None]


class _PowerCutError(BaseException):
    """Not an error that anything handles."""


def cut_before_the_first_move(folder: Path, scene: str, monkeypatch: pytest.MonkeyPatch) -> str:
    """Begun, and nothing moved yet; the id of the change."""

    def cut(*_: object, **__: object) -> None:
        raise _PowerCutError

    card = open_card(folder)
    with monkeypatch.context() as patch:
        patch.setattr(Settling, "run", cut)
        with pytest.raises(_PowerCutError):
            apply(card, plan_of(scene, card))
    unfinished = find_unfinished(card)
    assert unfinished is not None
    return unfinished.id


@pytest.fixture
def begun(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], tuple[Path, str]]:
    """`begun(scene)`: a card on which that change has begun and moved nothing, and the change's folder."""

    def make(scene: str) -> tuple[Path, str]:
        folder = tmp_path / "card"
        if not folder.exists():
            fault_scenes.lay_out(folder)
        change = cut_before_the_first_move(folder, scene, monkeypatch)
        return folder, f".cardwright/changes/{change}"

    return make


def ends_of(scene: str, tmp_path: Path) -> tuple[fault_scenes.State, fault_scenes.State]:
    """The card before and after."""
    folder = tmp_path / "undisturbed"
    fault_scenes.lay_out(folder)
    start = state_of(folder)
    apply(open_card(folder), plan_of(scene, open_card(folder)))
    return start, state_of(folder)


def both_ways(folder: Path, start: fault_scenes.State, end: fault_scenes.State) -> None:
    """From here the card can go forward and back."""
    other = copy_card(folder, folder.with_name("other"))
    end_with(open_card(folder), "forward", end, folder)
    end_with(open_card(other), "back", start, other)


def thing_paths(folder: Path, own: str) -> dict[str, str]:
    """`stage/N` by the place that thing N first stands in."""
    with open_grounds(open_card(folder).present) as grounds:
        from workbench.changes.ledger import load_record

        record = load_record(grounds["data"], own.rpartition("/")[2])
    return {
        str(record.place(thing.volume, thing.visited[0], at_end=True)): thing.rest.path
        for thing in record.things
        if thing.is_new
    }


MOVED = ["keep/Boats.sav keep/Ships.sav", "shelf/Boats shelf/Ships"]


@pytest.mark.parametrize("state", ["old", "new", "both", "neither"])
@pytest.mark.parametrize("what", MOVED)
def test_a_moved_name_is_found_whichever_is_there(
    what: str, state: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """A file or a folder under its old name, its new one, both (they are kept aside, not unlinked: they may
    share their clusters), or neither: then it is made again from its copy."""
    start, end = ends_of("rename", tmp_path)
    folder, own = begun("rename")
    old, new = (folder / "data" / path for path in what.split())
    if state == "new":
        old.rename(new)
    if state == "both":
        (shutil.copytree if old.is_dir() else shutil.copy2)(old, new)
    if state == "neither":
        (shutil.rmtree if old.is_dir() else os.unlink)(old)
    both_ways(folder, start, end)
    doubles = folder / "data" / own / "doubles"
    assert (len(list(doubles.iterdir())) if doubles.exists() else 0) == (2 if state == "both" else 0)


@pytest.mark.parametrize("is_moved", [False, True])
@pytest.mark.parametrize("what", MOVED)
def test_an_empty_leftover_is_put_aside(
    what: str, is_moved: bool, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """The new name without first cluster and size, which a cut keeps back, or a name that fsck cut."""
    start, end = ends_of("rename", tmp_path)
    folder, own = begun("rename")
    old, new = (folder / "data" / path for path in what.split())
    if is_moved:
        old.rename(new)
    ghost = old if is_moved else new
    ghost.mkdir() if new.is_dir() or old.is_dir() else ghost.touch()
    both_ways(folder, start, end)
    assert len(list((folder / "data" / own / "doubles").iterdir())) == 1


@pytest.mark.parametrize("what", ["keep/Boats.sav", "list.json", "shelf/Boats/begin"])
def test_a_file_that_was_cut_to_nothing_is_made_again(
    what: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """Its clusters are lost, its name is there: what stands there is put aside, its copy takes its place."""
    start, end = ends_of("rename", tmp_path)
    folder, _ = begun("rename")
    os.truncate(folder / "data" / what, 0)
    both_ways(folder, start, end)


def test_copies_of_moved_things_go_when_the_change_is_done(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """They are there from the beginning to the end of the change, and no longer."""
    start, _ = ends_of("rename", tmp_path)
    folder, own = begun("rename")
    copies = folder / "data" / own / "moved.pack"
    assert copies.stat().st_size > 0
    end_with(open_card(folder), "back", start, folder)
    assert not copies.exists()
    assert not list((tmp_path / "undisturbed").rglob("moved.pack"))


def test_a_moved_name_that_is_nowhere_stops_before_anything_moves(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Too large for a copy: what is lost is named, nothing is touched; once it is back, recovery goes on."""
    monkeypatch.setattr(moved_copies, "MOST_BYTES", 0)
    start, _ = ends_of("rename", tmp_path)
    folder, _ = begun("rename")
    lost = folder / "data/keep/Boats.sav"
    content = lost.read_bytes()
    lost.unlink()
    before = state_of(folder)
    for way in ("forward", "back"):
        with pytest.raises(UnfinishedChangeError, match=r"keep/Boats\.sav is nowhere"):
            recover(open_card(folder), "forward" if way == "forward" else "back")
    assert state_of(folder) == before
    lost.write_bytes(content)
    lost.chmod(0o600)
    end_with(open_card(folder), "back", start, folder)


@pytest.mark.parametrize("state", ["old", "new", "both", "neither"])
def test_a_replaced_file_comes_out_whole(
    state: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """Its new content is in place, still staged, under both names, or nowhere."""
    start, end = ends_of("rename", tmp_path)
    folder, own = begun("rename")
    target = folder / "data/list.json"
    staged = folder / "data" / own / thing_paths(folder, own)["data:list.json"]
    if state == "new":
        staged.replace(target)
    if state == "both":
        target.unlink()
        shutil.copy2(staged, target)
    if state == "neither":
        target.unlink()
        staged.unlink()
    both_ways(folder, start, end)


@pytest.mark.parametrize("state", ["old", "new", "both", "neither"])
def test_a_made_folder_and_a_new_file_come_out_whole(
    state: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """The same four states for what the change itself makes."""
    start, end = ends_of("mixed", tmp_path)
    folder, own = begun("mixed")
    rests = thing_paths(folder, own)
    made, made_at = folder / "data" / own / rests["data:new"], folder / "data/new"
    file, file_at = folder / "data" / own / rests["data:new/file"], folder / "data/new/file"
    if state == "new":
        made.rename(made_at)
        file.rename(file_at)
    if state == "both":
        shutil.copytree(made, made_at)
    if state == "neither":
        made.rmdir()
        file.unlink()
    both_ways(folder, start, end)


@pytest.mark.parametrize("state", ["old", "new", "both"])
def test_a_removed_folder_is_found_in_its_place_or_in_the_keep(
    state: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """Remove is a move, so it can be half done like one."""
    start, end = ends_of("mixed", tmp_path)
    folder, own = begun("mixed")
    old = folder / "data/old"
    with open_grounds(open_card(folder).present) as grounds:
        from workbench.changes.ledger import load_record

        record = load_record(grounds["data"], own.rpartition("/")[2])
    removed = next(thing for thing in record.things if thing.initial and thing.initial.path == "old")
    keep = folder / "data" / own / removed.rest.path
    if state == "new":
        old.rename(keep)
    if state == "both":
        shutil.copytree(old, keep)
    both_ways(folder, start, end)


def test_a_stranger_in_the_way_is_named_and_kept(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """A file that someone put where the change has to put one stops it before anything moves."""
    _, end = ends_of("rename", tmp_path)
    folder, _ = begun("rename")
    stranger = folder / "data/keep/Ships.sav"
    stranger.write_bytes(b"mine")
    with pytest.raises(UnfinishedChangeError, match=r"keep/Ships\.sav is in the way"):
        recover(open_card(folder), "forward")
    assert stranger.read_bytes() == b"mine"
    stranger.unlink()
    end_with(open_card(folder), "forward", end, folder)


def test_a_file_edited_after_the_crash_is_not_overwritten(begun: Callable[[str], tuple[Path, str]]) -> None:
    """Neither the old content nor the new one stands there: that is somebody's work."""
    folder, _ = begun("rename")
    (folder / "data/list.json").write_bytes(b"{}\n")
    for way in ("forward", "back"):
        with pytest.raises(UnfinishedChangeError, match=r"list\.json is in the way"):
            recover(open_card(folder), "forward" if way == "forward" else "back")
    assert (folder / "data/list.json").read_bytes() == b"{}\n"


def test_a_folder_that_changed_inside_is_still_the_same_folder(
    begun: Callable[[str], tuple[Path, str]],
) -> None:
    """A host leaves litter in a folder between the crash and the recovery; it moves with the folder."""
    folder, _ = begun("rename")
    (folder / "data/shelf/Boats/litter").write_bytes(b"")
    recover(open_card(folder), "forward")
    assert (folder / "data/shelf/Ships/litter").exists()
    assert not (folder / "data/shelf/Boats").exists()


def test_while_a_change_is_unfinished_nothing_else_is_written(
    begun: Callable[[str], tuple[Path, str]],
) -> None:
    """Exit code 3, and the sentence says to recover."""
    folder, _ = begun("two")
    card = open_card(folder)
    with pytest.raises(UnfinishedChangeError, match="recover") as refused:
        apply(card, plan_of("mixed", card))
    assert refused.value.exit_code == 3


def hide(folder: Path) -> Path:
    """Take the system volume out."""
    away = folder.with_name("drawer")
    (folder / "system").rename(away)
    return away


def test_a_missing_volume_is_waited_for(tmp_path: Path, begun: Callable[[str], tuple[Path, str]]) -> None:
    """Recovery names it, does nothing, and ends the change once it is back."""
    start, end = ends_of("two", tmp_path)
    folder, _ = begun("two")
    away = hide(folder)
    before = state_of(folder)
    unfinished = find_unfinished(open_card(folder))
    assert unfinished is not None and unfinished.waiting_for == ("system",)
    for way in ("forward", "back"):
        with pytest.raises(UnfinishedChangeError, match="volume system"):
            recover(open_card(folder), "forward" if way == "forward" else "back")
    assert state_of(folder) == before
    away.rename(folder / "system")
    both_ways(folder, start, end)


def test_the_present_part_goes_back_without_the_other(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """The absent part stays marked; when it returns only its way back is open, and it takes it."""
    start, _ = ends_of("two", tmp_path)
    folder, _ = begun("two")
    away = hide(folder)
    with pytest.raises(UnfinishedChangeError, match="cannot be finished"):
        recover(open_card(folder), "forward", without={"system"})
    recover(open_card(folder), "back", without={"system"})
    assert find_unfinished(open_card(folder)) is None
    apply(open_card(folder), Plan("Go on", (MakeFolder(fault_scenes.at("data:more")),)))
    away.rename(folder / "system")
    unfinished = find_unfinished(open_card(folder))
    assert unfinished is not None and not unfinished.can_go_forward
    with pytest.raises(UnfinishedChangeError):
        recover(open_card(folder), "forward")
    recover(open_card(folder), "back")
    assert {**start, "data/more": state_of(folder)["data/more"]} == state_of(folder)


@pytest.mark.parametrize("first", ["data", "system"])
def test_volumes_in_different_states_end_together(
    first: str, tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """One volume is at the end and says done, the other has not moved a thing."""
    start, end = ends_of("two", tmp_path)
    folder, own = begun("two")
    finish_one(folder, own, first)
    both_ways(folder, start, end)


def finish_one(folder: Path, own: str, role: str) -> None:
    """Carry the change to its end on one volume alone."""
    from workbench.changes.ledger import load_record

    with open_grounds(open_card(folder).present) as grounds:
        ground = grounds[role]
        record = load_record(ground, own.rpartition("/")[2])
        Settling(ground, record, applying.standing_at_start(record, ground)).run(forward=True)
        put_mark(ground, f"{own}/marks", record.id, "done")


def test_a_clone_with_another_history_is_not_taken_for_the_volume(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """A copy of the system volume made before the change bears the same id, but never saw the change."""
    fault_scenes.lay_out(tmp_path / "card")
    card = open_card(tmp_path / "card")
    apply(
        card, Plan("Before", (MakeFolder(fault_scenes.at("system:x")), MakeFolder(fault_scenes.at("data:x"))))
    )
    clone = copy_card(tmp_path / "card/system", tmp_path / "clone")
    folder, _ = begun("two")
    away = hide(folder)
    shutil.copytree(clone, folder / "system")
    unfinished = find_unfinished(open_card(folder))
    assert unfinished is not None and unfinished.waiting_for == ("system",)
    with pytest.raises(UnfinishedChangeError, match="another history"):
        recover(open_card(folder), "back")
    shutil.rmtree(folder / "system")
    away.rename(folder / "system")
    recover(open_card(folder), "back")


@pytest.mark.parametrize("spoil", ["plan.json", "marks", "kept.pack"])
def test_damage_to_one_change_hides_no_other(spoil: str, tmp_path: Path) -> None:
    """An unreadable change is a finding; the others are listed and can be taken back."""
    folder = tmp_path / "card"
    fault_scenes.lay_out(folder)
    card = open_card(folder)
    apply(card, plan_of("rename", card))
    apply(card, _later())
    target = next((folder / "data/.cardwright/changes").glob("0001-*")) / spoil
    raw = bytearray(target.read_bytes())
    raw[len(raw) // 3] ^= 0xFF
    target.write_bytes(bytes(raw))
    assert 2 in [change.number for change in read_history(card)]
    assert bool(find_damaged(card)) == (spoil == "plan.json")
    apply(card, plan_undo(card, 2))
    assert (folder / "data/old/one/two").exists()
    if spoil == "marks":  # a later change was made, so it had ended
        apply(card, plan_undo(card, 1))
        assert (folder / "data/shelf/Boats").exists()
    else:
        with pytest.raises(CardwrightError):
            plan_undo(card, 1)


def _later() -> Plan:
    return Plan("Later", (Remove(fault_scenes.at("data:old")),))


def test_a_change_whose_marks_are_unreadable_counts_as_begun(
    tmp_path: Path, begun: Callable[[str], tuple[Path, str]]
) -> None:
    """It is looked at by hashes, and both ways lead out."""
    start, end = ends_of("rename", tmp_path)
    folder, own = begun("rename")
    (folder / "data" / own / "marks").write_bytes(os.urandom(512))
    both_ways(folder, start, end)


def test_a_volume_swapped_under_the_mount_point_is_noticed(tmp_path: Path) -> None:
    """The card is pulled and another one put in between two steps: nothing is written to that one."""
    folder = tmp_path / "card"
    fault_scenes.lay_out(folder)
    card = open_card(folder)
    other = copy_card(folder / "data", tmp_path / "other")
    before = state_of(other)
    told: list[str] = []

    def swap(words: str, done: int, total: int) -> None:
        told.append(f"{words}{done}{total}")
        if len(told) == 5:
            (folder / "data").rename(tmp_path / "pulled")
            other.rename(folder / "data")

    with pytest.raises(CardwrightError, match="no longer the one"):
        apply(card, plan_of("rename", card), progress=swap)
    assert state_of(folder / "data") == before
    assert not (folder / "data/.cardwright").exists()


def test_a_small_file_moved_twice_by_one_plan_is_one_thing(tmp_path: Path) -> None:
    """Write, move and write again is one new content, and goes back as one."""
    folder = tmp_path / "card"
    fault_scenes.lay_out(folder)
    start, card = state_of(folder), open_card(folder)
    at, to = fault_scenes.at("system:conf"), fault_scenes.at("system:conf2")
    steps = (
        Write(at, b"1", digest(b"x=Boats\n")),
        Move(at, to),
        Write(to, b"2", digest(b"1")),
    )
    apply(card, Plan("Thrice", steps))
    assert (folder / "system/conf2").read_bytes() == b"2"
    apply(card, plan_undo(card, 1))
    assert state_of(folder) == start

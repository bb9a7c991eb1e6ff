"""The planned tree shows a card as it will be, without reading what nobody asks for."""

from __future__ import annotations

from pathlib import Path

import pytest
from changes_card import make_card, place

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.tree import Item
from workbench.changes.plan import Listing, MakeFolder, Move, Plan, Prepared, Remove, Write, digest
from workbench.changes.planned_tree import PlannedTree
from workbench.errors import CardError, PreflightError

FILES: dict[str, bytes | None] = {
    "shelf/Boats/begin": b"run Boats",
    "shelf/Boats/deep/er/file": b"D",
    "shelf/Kites/begin": b"run Kites",
    "list": b"Boats",
    "gone": b"G",
}


@pytest.fixture
def tree(tmp_path: Path) -> PlannedTree:
    card = make_card(tmp_path / "card", FILES)
    (tmp_path / "render").write_bytes(b"picture")
    steps = (
        Write(place("list"), b"Ships", digest(b"Boats")),
        Move(place("shelf/Boats"), place("shelf/Ships")),
        Write(place("shelf/Ships/deep/er/file"), b"E", digest(b"D")),
        Remove(place("gone")),
        MakeFolder(place("new")),
        Write(place("new/p"), Prepared(str(tmp_path / "render"), 7, digest(b"picture")), None, mode=0o755),
    )
    return PlannedTree(DiskTree(card), Plan("Rename", steps))


def names(items: tuple[Item, ...]) -> list[str]:
    return sorted(item.name for item in items)


def test_it_lists_stats_and_reads_what_will_be(tree: PlannedTree) -> None:
    """New content, moved folders with what is in them, made folders; what goes is gone."""
    assert names(tree.list(place(""))) == ["list", "new", "shelf"]
    assert names(tree.list(place("shelf"))) == ["Kites", "Ships"]
    assert tree.read(place("list")) == b"Ships"
    assert tree.read(place("shelf/Ships/begin")) == b"run Boats"
    assert tree.read(place("shelf/Ships/deep/er/file")) == b"E"
    assert tree.read(place("new/p"), 3) == b"pic"
    assert tree.stat(place("shelf/Boats")) is None and tree.stat(place("gone")) is None
    found = tree.stat(place("new/p"))
    assert found is not None and (found.kind, found.size, found.mode) == ("file", 7, 0o755)
    with pytest.raises(CardError):
        tree.read(place("gone"))


def test_the_light_walk_agrees_with_the_full_one(tree: PlannedTree) -> None:
    """`walk_names` and `walk` tell the same tree."""
    walked = sorted((item.at.path, item.kind == "folder") for item in tree.walk(place("")))
    assert sorted(tree.walk_names("data")) == walked


def test_plans_stand_on_plans(tree: PlannedTree) -> None:
    """A planned tree can be planned on."""
    again = PlannedTree(tree, Plan("Back", (Move(place("shelf/Ships"), place("shelf/Boats")),)))
    assert again.read(place("shelf/Boats/begin")) == b"run Boats"
    assert sorted(path for path, _ in again.walk_names("data")) == sorted(
        path.replace("Ships", "Boats") for path, _ in tree.walk_names("data")
    )


def test_a_listing_sets_the_order(tmp_path: Path) -> None:
    """The order that a plan wants is the order that the planned tree lists."""
    card = make_card(tmp_path, {"b": b"", "a": b"", "c": b""})
    plan = Plan("Order", (), listings=(Listing(place(""), ("c", "a", "b")),))
    assert [item.name for item in PlannedTree(DiskTree(card), plan).list(place(""))] == ["c", "a", "b"]


def test_links_are_followed_within_the_volume(tmp_path: Path) -> None:
    """A link to a folder leads there, also when the plan moved the link."""
    card = make_card(tmp_path, {"real/f": b"F"})
    (tmp_path / "link").symlink_to("real")
    tree = PlannedTree(DiskTree(card), Plan("Move", (Move(place("link"), place("other")),)))
    assert tree.read(place("other/f")) == b"F"
    assert tree.resolve(place("other")) == place("real")
    found = tree.stat(place("other"))
    assert found is not None and found.kind == "link"


def test_a_step_that_cannot_be_is_refused(tmp_path: Path) -> None:
    """With the place named."""
    card = make_card(tmp_path, {"a": b"A"})
    with pytest.raises(PreflightError) as refused:
        PlannedTree(DiskTree(card), Plan("Bad", (Move(VolumePath("data", "b"), place("c")),)))
    assert refused.value.path == "data:b"

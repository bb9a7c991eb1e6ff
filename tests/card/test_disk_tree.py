"""The card as it is on disk: lists, reads, links, and a card that is pulled out."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.errors import CardError


def place(path: str, volume: str = "data") -> VolumePath:
    return VolumePath(volume, path)


@pytest.fixture
def root(tmp_path: Path) -> Path:
    """A small volume: two folders, a script, the ledger's folder."""
    folder = tmp_path / "volume"
    (folder / "shelf" / "Boats").mkdir(parents=True)
    (folder / "shelf" / "Boats" / "begin").write_text("#!/bin/sh\n")
    (folder / "shelf" / "Boats" / "begin").chmod(0o755)
    (folder / "house").mkdir()
    (folder / "house" / "lately.txt").write_bytes(b"Boats\r\n")
    (folder / ".cardwright" / "changes").mkdir(parents=True)
    return folder


@pytest.fixture
def tree(root: Path) -> DiskTree:
    return make_tree(root)


def make_tree(root: Path) -> DiskTree:
    volumes = {"data": Volume("data", root), "system": Volume.absent("system")}
    return DiskTree(Card("shelves", volumes, None, "folder"))


def test_a_list_holds_everything_but_the_ledger(tree: DiskTree) -> None:
    """The ledger's folder is never shown."""
    assert {item.name for item in tree.list(place(""))} == {"shelf", "house"}
    assert tree.stat(place(".cardwright")) is None
    assert not any(path.startswith(".cardwright") for path, _ in tree.walk_names("data"))


def test_items_say_kind_size_and_mode(tree: DiskTree) -> None:
    """A script keeps its run bit, a folder has no size."""
    script = tree.stat(place("shelf/Boats/begin"))
    folder = tree.stat(place("shelf"))
    assert script is not None and (script.kind, script.size, script.mode) == ("file", 10, 0o755)
    assert folder is not None and (folder.kind, folder.size) == ("folder", 0)
    assert tree.stat(place("shelf/none")) is None
    assert tree.stat(place("house/lately.txt/below")) is None


def test_a_walk_gives_folders_before_their_content(tree: DiskTree) -> None:
    """Depth first; both walks see the same names."""
    walked = [item.at.path for item in tree.walk(place(""))]
    assert walked.index("shelf") < walked.index("shelf/Boats") < walked.index("shelf/Boats/begin")
    assert sorted(walked) == sorted(path for path, _ in tree.walk_names("data"))
    assert dict(tree.walk_names("data"))["shelf/Boats"] is True


def test_reading_gives_the_bytes_or_their_start(tree: DiskTree) -> None:
    """Line endings stay; a limit cuts."""
    assert tree.read(place("house/lately.txt")) == b"Boats\r\n"
    assert tree.read(place("house/lately.txt")) == b"Boats\r\n"
    assert tree.read(place("house/lately.txt"), 3) == b"Boa"


def test_a_file_changed_behind_the_cache_is_read_again(tree: DiskTree, root: Path) -> None:
    """What is kept in memory is never older than the file."""
    assert tree.read(place("house/lately.txt")) == b"Boats\r\n"
    (root / "house" / "lately.txt").write_bytes(b"Lanterns\n")
    assert tree.read(place("house/lately.txt")) == b"Lanterns\n"


def test_a_link_within_the_volume_is_followed(tree: DiskTree, root: Path) -> None:
    """A link to a file or folder of the same volume is read through, and said to be a link."""
    (root / "near").symlink_to("house/lately.txt")
    (root / "shelf" / "rooms").symlink_to("../house")
    assert tree.read(place("near")) == b"Boats\r\n"
    assert tree.read(place("shelf/rooms/lately.txt")) == b"Boats\r\n"
    assert tree.resolve(place("shelf/rooms/lately.txt")) == place("house/lately.txt")
    near = tree.stat(place("near"))
    assert near is not None and near.kind == "link"
    assert [item.at.path for item in tree.list(place("shelf/rooms"))] == ["shelf/rooms/lately.txt"]


@pytest.mark.parametrize("target", ["../outside", "/etc", "shelf/../../outside", "a/b/../../../outside"])
def test_a_link_out_of_the_volume_is_refused(tree: DiskTree, root: Path, target: str) -> None:
    """No road of links leads out, whatever it looks like."""
    (root.parent / "outside").mkdir()
    (root.parent / "outside" / "secret").write_text("not yours")
    (root / "a" / "b").mkdir(parents=True)
    (root / "way").symlink_to(target)
    for ask in (tree.resolve, tree.list, tree.read):
        with pytest.raises(CardError, match="leads out of the volume"):
            ask(place("way"))
    with pytest.raises(CardError, match="leads out of the volume"):
        tree.read(place("way/secret"))
    with pytest.raises(CardError, match="leads out of the volume"):
        tree.stat(place("way/secret"))


def test_links_in_a_circle_are_refused(tree: DiskTree, root: Path) -> None:
    """Two links that name one another end in a sentence."""
    (root / "one").symlink_to("two")
    (root / "two").symlink_to("one")
    with pytest.raises(CardError, match="circle"):
        tree.read(place("one"))


def test_a_walk_follows_no_links(tree: DiskTree, root: Path) -> None:
    """A link to a folder above cannot make a walk endless."""
    (root / "shelf" / "up").symlink_to("..")
    walked = [item.at.path for item in tree.walk(place(""))]
    assert "shelf/up" in walked and not any(path.startswith("shelf/up/") for path in walked)
    assert dict(tree.walk_names("data"))["shelf/up"] is False


def test_what_is_no_file_is_not_read(tree: DiskTree, root: Path) -> None:
    """A folder or a pipe gives a sentence at once, never a hang."""
    os.mkfifo(root / "pipe")
    with pytest.raises(CardError, match="neither a file nor a folder"):
        tree.read(place("pipe"))
    with pytest.raises(CardError, match="it is a folder"):
        tree.read(place("shelf"))
    with pytest.raises(CardError, match="no such file"):
        tree.read(place("none"))


def test_names_that_are_no_utf8_survive(tree: DiskTree, root: Path) -> None:
    """A name with a stray byte is listed and read as it is."""
    name = os.fsdecode(b"\xfftin")
    (root / name).write_text("x")
    assert name in {item.name for item in tree.list(place(""))}
    assert tree.read(place(name)) == b"x"


def test_an_absent_volume_is_said_to_be_absent(tree: DiskTree) -> None:
    """Absent is not empty."""
    assert tree.roles() == ("data",)
    with pytest.raises(CardError, match="absent"):
        tree.list(place("", "system"))
    with pytest.raises(CardError, match="no volume"):
        tree.read(place("x", "attic"))


@pytest.mark.parametrize("ask", ["list", "read", "stat", "walk_names"])
def test_a_card_pulled_out_is_said_to_be_gone(root: Path, ask: str) -> None:
    """Whatever is asked of a card that is no longer there, the answer says so."""
    tree = make_tree(root)
    root.rename(root.with_name("drawer"))
    with pytest.raises(CardError, match="no longer there"):
        tree.walk_names("data") if ask == "walk_names" else getattr(tree, ask)(place("house/lately.txt"))


def test_an_empty_mount_point_left_behind_is_no_empty_card(root: Path) -> None:
    """When the volume goes, its mount point may stay: another folder in its place is noticed."""
    tree = make_tree(root)
    root.rename(root.with_name("drawer"))
    root.mkdir()
    with pytest.raises(CardError, match="no longer there"):
        tree.list(place(""))
    with pytest.raises(CardError, match="no longer there"):
        tree.walk_names("data")


def test_an_unreadable_folder_is_left_closed(tree: DiskTree, monkeypatch: pytest.MonkeyPatch) -> None:
    """A walk goes on past a folder that cannot be listed; a list of it says why."""
    real = os.scandir

    def scandir(path: str) -> object:
        if str(path).endswith("house"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(os, "scandir", scandir)
    assert ("shelf/Boats/begin", False) in tree.walk_names("data")
    with pytest.raises(CardError, match="not allowed"):
        tree.list(place("house"))

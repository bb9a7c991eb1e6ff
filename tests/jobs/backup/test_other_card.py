"""What a move to another file system costs and breaks, against figures worked out by hand."""

from __future__ import annotations

import os

import pytest

from workbench.card.disk_tree import DiskTree
from workbench.card.volumes import Card, Volume
from workbench.errors import UsageError
from workbench.jobs.backup.other_card import Target, _count_entries, plan_move, read_target
from workbench.jobs.backup.sizes import read_size


@pytest.fixture
def tree(tmp_path):
    root = tmp_path / "main"
    root.mkdir()
    return DiskTree(Card("t", {"main": Volume("main", root)}, None, "folder")), root


@pytest.mark.parametrize(
    ("cluster", "taken"), [(4096, 3_276_800), (16384, 6_553_600), (32768, 13_107_200), (131072, 52_428_800)]
)
def test_four_hundred_frames_in_whole_units(cluster, taken, tree):
    """400 files of 6,000 bytes, worked out from ceil(size/unit)*unit, and the root folder."""
    disk, root = tree
    for number in range(400):
        (root / f"{number:03}.png").write_bytes(bytes(6000))
    move = plan_move(disk, Target("exfat", cluster))
    folder = -(-400 * 3 * 32 // cluster) * cluster
    assert move.volumes[0].taken_then == taken + folder
    assert move.troubles == ()


@pytest.mark.parametrize(
    ("name", "fat", "exfat"),
    [
        ("n" * 13, 2, 3),
        ("n" * 14, 3, 3),
        ("n" * 26, 3, 4),
        ("n" * 27, 4, 4),
        ("n" * 255, 21, 19),
        ("FOO.BAR", 1, 3),
    ],
)
def test_directory_entries_of_a_name(name, fat, exfat):
    """FAT specification (long entries of 13 units) and exFAT 7.7 (15 units): the table of the two."""
    assert (_count_entries(name, "fat32"), _count_entries(name, "exfat")) == (fat, exfat)


def test_what_would_not_survive(tree):
    """Names, clashes by case and by composition, links, and a file of 4 GiB; on ext4 nothing of it breaks."""
    disk, root = tree
    for name in ("aux.txt", "a:b", "File", "file", "caf\u00e9", "cafe\u0301"):
        (root / name).write_bytes(b"x")
    (root / "link").symlink_to("File")
    for name, size in (
        ("film", 1 << 32),
        ("long film", (1 << 32) - 1),
    ):  # a directory entry has 32 bits for it
        with open(root / name, "wb") as film:
            os.truncate(film.fileno(), size)
    found = {(one.at.name, one.kind) for one in plan_move(disk, Target("fat32", 32768)).troubles}
    assert found == {
        ("aux.txt", "name"),
        ("a:b", "name"),
        ("file", "clash"),
        ("caf\u00e9", "clash"),
        ("link", "link"),
        ("film", "large"),
    }
    assert "large" not in {one.kind for one in plan_move(disk, Target("exfat", 32768)).troubles}
    assert plan_move(disk, Target("ext4", 4096)).troubles == ()


def test_the_root_of_fat16_holds_170_names_of_14_letters(tree):
    """512 entries less the volume's own label: 170 long names fit, as measured with mtools; 171 do not."""
    disk, root = tree
    for number in range(170):
        (root / f"name-of-14-{number:03}").touch()
    assert plan_move(disk, Target("fat16", 32768)).troubles == ()
    (root / "one-more-of-14").touch()
    assert [one.kind for one in plan_move(DiskTree(disk.card), Target("fat16", 32768)).troubles] == ["folder"]


def test_a_size_that_is_too_small(tree):
    disk, root = tree
    (root / "x").write_bytes(bytes(10))
    move = plan_move(disk, read_target("exfat:128K:128K", read_size))
    assert [one.kind for one in move.troubles] == ["size"]


@pytest.mark.parametrize("text", ["ntfs:4K", "exfat:3K", "exfat:64M", "exfat:128K:1G:2", "fat32:lots"])
def test_what_is_no_target(text):
    with pytest.raises(UsageError):
        read_target(text, read_size)

"""The mount table as proc(5) describes it."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.mounts import find_mount, read_mounts, unescape

TABLE = """\
22 27 0:21 / /proc rw,relatime - proc proc rw
27 1 254:0 / / rw,relatime - ext4 /dev/vda rw,discard
40 27 8:17 / /media/kit/MY\\040CARD rw,nosuid shared:5 master:2 - vfat /dev/sdb1 rw,errors=remount-ro
41 27 8:18 /below /media/kit/below ro - ext4 /dev/sdb2 rw
42 27 0:50 / /media/kit/SOUNDS rw - fuseblk /dev/sdc1 rw,user_id=0
43 27 8:33 / /media/kit/SOUNDS rw - exfat /dev/sdd1 ro
a line that is none
"""


@pytest.fixture
def table(tmp_path: Path) -> Path:
    file = tmp_path / "mountinfo"
    file.write_text(TABLE)
    return file


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("a\\040b", "a b"),
        ("a\\011b", "a\tb"),
        ("a\\012b", "a\nb"),
        ("a\\134040", "a\\040"),
        ("plain", "plain"),
    ],
)
def test_escapes_are_undone_once(text: str, plain: str) -> None:
    """Space, tab, newline and backslash stand in octal (proc(5)); what they give is not read again."""
    assert unescape(text) == plain


def test_fields_are_found_whatever_tags_stand_between(table: Path) -> None:
    """Optional tags before the dash vary in number."""
    card = next(mount for mount in read_mounts(table) if mount.device == "/dev/sdb1")
    assert (card.point, card.filesystem, card.number) == ("/media/kit/MY CARD", "vfat", "8:17")
    assert card.options == ("rw", "nosuid") and "errors=remount-ro" in card.super_options


def test_read_only_comes_from_the_mount_or_from_its_file_system(table: Path) -> None:
    """A bind mount may be read-only by itself, a file system after an error."""
    read_only = {mount.device: mount.is_read_only for mount in read_mounts(table)}
    assert read_only["/dev/sdb2"] and read_only["/dev/sdd1"] and not read_only["/dev/sdb1"]


def test_of_two_mounts_at_one_point_the_later_is_seen(table: Path) -> None:
    """What is mounted over hides what was there."""
    devices = [mount.device for mount in read_mounts(table)]
    assert "/dev/sdd1" in devices and "/dev/sdc1" not in devices


@pytest.mark.parametrize(
    ("path", "device"),
    [("/media/kit/MY CARD/a", "/dev/sdb1"), ("/media/kit/MY CARDS", "/dev/vda"), ("/", "/dev/vda")],
)
def test_a_path_lies_on_the_mount_with_the_longest_point(table: Path, path: str, device: str) -> None:
    """Whole components only."""
    mount = find_mount(read_mounts(table), path)
    assert mount is not None and mount.device == device


def test_this_computers_table_is_read() -> None:
    """Every process has a root."""
    mount = find_mount(read_mounts(), "/")
    assert mount is not None and mount.point == "/"

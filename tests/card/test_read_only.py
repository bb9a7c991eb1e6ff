"""Why a volume is read-only: on purpose, after an error, locked, or of a kind that keeps nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from workbench.card.mounts import Mount
from workbench.card.profile_reader import parse_profile
from workbench.card.read_only import judge_read_only
from workbench.card.volumes import Card, CardSource, Volume
from workbench.errors import ProfileError

PROFILE = """
schema = 1
name = "Test"
[panel]
width = 8
height = 8
[volumes.system]
identify = ["greet/"]
"""


def card_of(root: Path, *, on_purpose: bool = False, source: CardSource = "folder") -> Card:
    said = 'read_only = "on purpose"\n' if on_purpose else ""
    profile = parse_profile((PROFILE + said).encode(), Path("test.toml"))
    return Card("c", {"system": Volume("system", root, read_only=True)}, profile, source)


def mount_at(
    root: Path, filesystem: str, options: str = "ro", inner: str = "ro", number: str = "8:1"
) -> Mount:
    return Mount(
        str(root),
        "/dev/none1",
        filesystem,
        tuple(options.split(",")),
        number=number,
        super_options=tuple(inner.split(",")),
    )


@pytest.fixture
def sys_folder(tmp_path: Path) -> Path:
    """A /sys in which the ext4 on none1 has counted no error and the device is not locked."""
    folder = tmp_path / "sys"
    for path, text in (("fs/ext4/none1/errors_count", "0\n"), ("dev/block/8:1/ro", "0\n")):
        (folder / path).parent.mkdir(parents=True)
        (folder / path).write_text(text)
    return folder


@pytest.mark.parametrize("filesystem", ["vfat", "exfat", "fuseblk", "ext4", "f2fs"])
def test_a_mount_made_read_only_on_purpose_can_be_opened(
    filesystem: str, tmp_path: Path, sys_folder: Path
) -> None:
    """The mount and its file system both say so."""
    found = judge_read_only(card_of(tmp_path), "system", [mount_at(tmp_path, filesystem)], sys_folder)
    assert found.can_open and found.because == "is mounted read-only" and not found.on_purpose
    found = judge_read_only(
        card_of(tmp_path, on_purpose=True), "system", [mount_at(tmp_path, filesystem)], sys_folder
    )
    assert found.can_open and "profile says it is on purpose" in found.because


@pytest.mark.parametrize("on_purpose", [False, True])
@pytest.mark.parametrize(
    ("filesystem", "options", "inner", "said"),
    [
        ("vfat", "rw,relatime", "ro,errors=remount-ro", "after an error"),
        ("exfat", "rw", "ro", "after an error"),
        ("ext4", "ro", "ro,emergency_ro", "after an error"),
        ("ext4", "ro,relatime", "ro,shutdown", "after an error"),
        ("overlay", "ro", "rw,upperdir=/x", "goes into a layer"),
        ("aufs", "ro", "rw", "goes into a layer"),
        ("tmpfs", "ro", "ro", "gone when the device starts again"),
        ("ramfs", "ro", "ro", "gone when the device starts again"),
        ("squashfs", "ro", "ro", "(squashfs) that is made as a whole"),
        ("erofs", "ro", "ro", "(erofs) that is made as a whole"),
        ("iso9660", "ro", "ro", "(iso9660) that is made as a whole"),
        ("vfat", "rw", "rw", "no right to write"),
    ],
)
def test_what_is_never_opened(
    filesystem: str, options: str, inner: str, said: str, on_purpose: bool, tmp_path: Path, sys_folder: Path
) -> None:
    """Whatever the profile says; the sentence tells what would happen."""
    card = card_of(tmp_path, on_purpose=on_purpose)
    found = judge_read_only(card, "system", [mount_at(tmp_path, filesystem, options, inner)], sys_folder)
    assert not found.can_open and said in found.because


def test_an_ext4_that_counted_errors_is_not_opened(tmp_path: Path, sys_folder: Path) -> None:
    """Its superblock remembers them until fsck (sysfs-fs-ext4 in the kernel's ABI documents)."""
    (sys_folder / "fs/ext4/none1/errors_count").write_text("3\n")
    mounts = [mount_at(tmp_path, "ext4")]
    for on_purpose in (False, True):
        found = judge_read_only(card_of(tmp_path, on_purpose=on_purpose), "system", mounts, sys_folder)
        assert not found.can_open and "after an error" in found.because


def test_where_nobody_can_tell_only_the_profile_counts(tmp_path: Path) -> None:
    """An ext file system without the kernel's count of errors."""
    mounts = [mount_at(tmp_path, "ext3")]
    assert not judge_read_only(card_of(tmp_path), "system", mounts, tmp_path / "none").can_open
    assert judge_read_only(card_of(tmp_path, on_purpose=True), "system", mounts, tmp_path / "none").can_open


def test_a_locked_medium_is_said_to_be_locked(tmp_path: Path, sys_folder: Path) -> None:
    """The block device itself refuses writing."""
    (sys_folder / "dev/block/8:1/ro").write_text("1\n")
    found = judge_read_only(card_of(tmp_path), "system", [mount_at(tmp_path, "vfat")], sys_folder)
    assert not found.can_open and "lock switch" in found.because


def test_the_running_system_is_opened_only_on_the_device_itself(tmp_path: Path, sys_folder: Path) -> None:
    """A folder on this computer's own root is no card's volume; a device's own, by its profile, is."""
    mounts = [mount_at(Path("/"), "vfat")]
    for source, on_purpose, opens in (
        ("folder", True, False),
        ("device", False, False),
        ("device", True, True),
    ):
        card = card_of(tmp_path, on_purpose=on_purpose, source=source)  # type: ignore[arg-type]
        assert judge_read_only(card, "system", mounts, sys_folder).can_open == opens


def test_the_profile_says_it_in_one_way(tmp_path: Path) -> None:
    """Anything else is an error with the line."""
    card = card_of(tmp_path, on_purpose=True)
    assert card.profile is not None and card.profile.volumes["system"].read_only_on_purpose
    with pytest.raises(ProfileError, match="read_only") as refused:
        parse_profile((PROFILE + "read_only = true\n").encode(), Path("test.toml"))
    assert refused.value.line == 9

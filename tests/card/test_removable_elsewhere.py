"""Cards where there is no sysfs: by the fields that psutil documents for macOS and Windows."""

from __future__ import annotations

import sys
from pathlib import Path
from types import SimpleNamespace

import psutil
import pytest

from workbench.card import mounts
from workbench.card.computer import Computer
from workbench.card.discovery import find_cards
from workbench.card.mounts import Mount, read_mounts


def look(tmp_path: Path, *found: Mount) -> Computer:
    """A computer without /sys that has these mounts."""
    computer = Computer(tmp_path)
    computer.mounts = found
    return computer


def test_macos_volumes_of_one_disk_are_one_card(tmp_path: Path) -> None:
    """`/dev/disk4s1` and `s2` are one medium; the system's own volumes lie elsewhere."""
    computer = look(
        tmp_path,
        Mount("/", "/dev/disk1s5", "apfs", ("ro", "local")),
        Mount("/Volumes/GREET", "/dev/disk4s1", "msdos", ("rw",)),
        Mount("/Volumes/STORE", "/dev/disk4s2", "exfat", ("rw",)),
        Mount("/Volumes/Backup", "/dev/disk5s1", "apfs", ("rw",)),
    )
    (card,) = find_cards((), computer)
    assert card.name == "GREET" and list(card.volumes) == ["GREET", "STORE"]


def test_windows_offers_removable_drives_only(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A drive of type `removable` is a card; the system drive and optical drives never are."""
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setenv("SYSTEMDRIVE", "C:")
    computer = look(
        tmp_path,
        Mount("C:\\", "C:\\", "NTFS", ("rw", "fixed")),
        Mount("D:\\", "D:\\", "", ("cdrom",)),
        Mount("E:\\", "E:\\", "exFAT", ("rw", "removable")),
        Mount("F:\\", "F:\\", "NTFS", ("rw", "fixed")),
    )
    cards = find_cards((), computer)
    assert [volume.root for card in cards for volume in card.present] == [Path("E:\\")]


def test_psutils_list_is_used_where_there_is_no_mount_table(monkeypatch: pytest.MonkeyPatch) -> None:
    """Its fields become ours."""
    part = SimpleNamespace(
        device="/dev/disk4s1", mountpoint="/Volumes/STORE", fstype="exfat", opts="rw,nosuid"
    )
    monkeypatch.setattr(mounts.sys, "platform", "darwin")
    monkeypatch.setattr(psutil, "disk_partitions", lambda **_: [part])
    assert read_mounts() == (Mount("/Volumes/STORE", "/dev/disk4s1", "exfat", ("rw", "nosuid")),)

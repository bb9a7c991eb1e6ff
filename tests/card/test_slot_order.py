"""Which volumes list names in the order in which they came."""

from __future__ import annotations

import pytest

from workbench.card import slot_order
from workbench.card.slot_order import keeps_slots


@pytest.mark.parametrize(
    ("filesystem", "kept"),
    [
        ("vfat", True),
        ("exfat", True),
        ("VFAT", True),
        ("ext4", False),
        ("tmpfs", False),
        ("overlay", False),
        ("", False),
    ],
)
def test_by_the_name_of_the_file_system(filesystem, kept, tmp_path):
    """FAT and exFAT have slots (both specifications); the others list in an order of their own."""
    assert keeps_slots(filesystem, "", str(tmp_path)) is kept


@pytest.mark.parametrize(("sign", "kept"), [(b"EXFAT   ", True), (b"NTFS    ", False)])
def test_behind_fuse_the_first_sector_tells(sign, kept, tmp_path):
    """exFAT specification 3.1.2: FileSystemName at byte 3; NTFS has its own there (common practice)."""
    (tmp_path / "disk").write_bytes(b"\xebv\x90" + sign + b"\0" * 501)
    assert keeps_slots("fuseblk", str(tmp_path / "disk"), str(tmp_path)) is kept


@pytest.mark.parametrize(("notes", "kept"), [("ntfs", False), ("exfat", True), (None, True)])
def test_else_what_udev_noted(notes, kept, tmp_path, monkeypatch):
    """A device that only root may read is known from udev's notes; where nobody knows, exFAT is likely."""
    monkeypatch.setattr(slot_order, "_UDEV", str(tmp_path))
    number = tmp_path.stat().st_dev
    if notes:
        place = tmp_path / f"b{slot_order.os.major(number)}:{slot_order.os.minor(number)}"
        place.write_text(f"S:disk\nE:ID_FS_TYPE={notes}\nE:ID_FS_VERSION=1.0\n")
    assert keeps_slots("fuseblk", str(tmp_path / "none"), str(tmp_path)) is kept

"""Block devices by sysfs: what is a card, and which disk lies under what."""

from __future__ import annotations

from pathlib import Path

import pytest
from fake_computer import FakeComputer


@pytest.mark.parametrize(
    ("name", "bus", "removable", "mmc", "is_card"),
    [
        ("sdb", "pci0/usb1/1-2/host6", 1, "", True),  # a USB reader
        ("sdc", "pci0/usb2/2-1/host7", 0, "", True),  # a USB adapter that says it is fixed
        ("sda", "pci0/ata1/host0", 0, "", False),  # the laptop's own disk
        ("sdd", "pci0/ata2/host1", 1, "", True),  # a reader on the mainboard
        ("mmcblk0", "platform/mmc0", 0, "SD", True),  # a slot reports removable=0 on purpose
        ("mmcblk1", "platform/mmc1", 0, "MMC", False),  # eMMC, soldered in
        ("mmcblk1boot0", "platform/mmc1b", 0, "MMC", False),
        ("mmcblk2", "platform/mmc2", 0, "SDIO", False),
        ("mmcblk0rpmb", "platform/mmc3", 1, "SD", False),
        ("sr0", "pci0/usb3/3-1/host8", 1, "", False),  # an optical drive
        ("nvme1n1", "nvme1", 0, "", False),
        ("zram0", "virtual", 0, "", False),
        ("loop0", "virtual", 0, "", False),
    ],
)
def test_what_is_a_card(tmp_path: Path, name: str, bus: str, removable: int, mmc: str, is_card: bool) -> None:
    """By `removable`, by USB in the path, by the type of an mmc device (drivers/mmc/core)."""
    fake = FakeComputer(tmp_path / "c")
    fake.add_disk(name, bus, removable=removable, mmc=mmc)
    assert fake.look().blocks.is_card(name) is is_card


def test_partitions_come_in_order_and_a_bare_disk_is_its_own(computer: FakeComputer) -> None:
    """Twelve partitions are counted as numbers; a disk without any is one file system."""
    computer.add_disk("sdb", "usb1", removable=1, parts=12)
    computer.add_disk("sdc", "usb2", removable=1)
    blocks = computer.look().blocks
    assert [part.name for part in blocks.partitions("sdb")] == [f"sdb{number}" for number in range(1, 13)]
    assert [part.name for part in blocks.partitions("sdc")] == ["sdc"]
    computer.remove_medium("sdb")
    assert blocks.partitions("sdb") == ()


def test_disks_are_found_through_mappers(computer: FakeComputer) -> None:
    """A LUKS volume on LVM on two disks lies on both."""
    computer.add_disk("sdb", "ata1", parts=1)
    computer.add_disk("sdc", "ata2", parts=1)
    computer.add_disk("dm-0", "virtual", slaves=("sdb1", "sdc1"))
    computer.add_disk("dm-1", "virtual", slaves=("dm-0",))
    blocks = computer.look().blocks
    assert blocks.find_disks("/dev/mapper/vault1") == {"sdb", "sdc"}
    assert blocks.find_disks("/dev/dm-1") == {"sdb", "sdc"}
    assert blocks.find_disks("/dev/sdb1") == {"sdb"}
    assert blocks.find_disks("tmpfs", "0:40") == frozenset()


def test_a_device_known_by_number_only_is_found(computer: FakeComputer) -> None:
    """`/dev/root` is no name of sysfs; the number is."""
    number = (computer.root / "sys/class/block/nvme0n1p2/dev").read_text().strip()
    assert computer.look().blocks.find_disks("/dev/root", number) == {"nvme0n1"}

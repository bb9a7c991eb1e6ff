"""Finding and reading cards on real file systems."""

from __future__ import annotations

import os
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from workbench.card.computer import Computer
from workbench.card.discovery import find_cards, open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.names import check_name, find_fault
from workbench.card.paths import VolumePath
from workbench.card.profile_reader import parse_profile
from workbench.card.watch import CardWatch
from workbench.errors import CardError

pytestmark = pytest.mark.real

PROFILE = parse_profile(
    b'schema = 1\nname = "Practice"\npanel = {width=1, height=1}\nvolumes.data.identify = ["Shelf/"]\n',
    Path("practice.toml"),
    "built-in",
)


def test_an_exfat_volume_is_found_and_measured(exfat: Any) -> None:
    """A loop device by FUSE: device, allocation unit as it was formatted, case rule as probed."""
    (exfat.root / "Shelf" / "Boats").mkdir(parents=True)
    exfat.remount()
    computer = Computer()  # of the loop devices only ours: looking at those of other tests keeps them busy
    computer.mounts = tuple(
        mount for mount in computer.mounts if mount.device == exfat.device or "loop" not in mount.device
    )
    (card,) = find_cards((PROFILE,), computer)
    volume = card.volume("data")
    assert volume.device == exfat.device and volume.cluster_bytes == 32 * 1024
    assert volume.host_names == "fat" and volume.case_probed and not volume.read_only
    assert 0 < volume.free_bytes <= volume.size_bytes <= 64 * 1024 * 1024
    assert open_card(str(exfat.root), (PROFILE,)).source == "removable"


def test_a_tree_on_exfat_finds_names_in_any_case(exfat: Any) -> None:
    """The host's rule decides what `stat` finds; the spelling asked for comes back."""
    (exfat.root / "Shelf").mkdir()
    (exfat.root / "Shelf" / "List.txt").write_bytes(b"Boats\n")
    tree = DiskTree(open_card(str(exfat.root), (PROFILE,)))
    found = tree.stat(VolumePath("data", "SHELF/list.TXT"))
    assert found is not None and found.at.path == "SHELF/list.TXT"
    assert tree.read(VolumePath("data", "shelf/LIST.txt")) == b"Boats\n"
    assert [item.name for item in tree.list(VolumePath("data", "Shelf"))] == ["List.txt"]


def test_a_volume_unmounted_while_read_is_said_to_be_gone(exfat: Any) -> None:
    """The mount point stays as an empty folder: that is not an empty card. The watch notices."""
    (exfat.root / "Shelf").mkdir()
    tree = DiskTree(open_card(str(exfat.root), (PROFILE,)))
    watch = CardWatch([exfat.root])
    subprocess.run(["umount", str(exfat.root)], check=True)
    assert watch.changed()
    with pytest.raises(CardError, match="no longer there"):
        tree.list(VolumePath("data", ""))
    with pytest.raises(CardError, match="no longer there"):
        tree.walk_names("data")


REFUSED = ["a:b", "what?", "x" * 256, "pipe|", "star*", 'quo"te', "a\\b", "le<ss", "\x01"]
TAKEN = ["x" * 255, "\U0001f388" * 127, "Évé [b] & c's", "+,;=[]", "CON1", "a.b.c", "語"]


def test_names_that_exfat_refuses_and_takes(exfat: Any) -> None:
    """What the volume does not take has a fault by our rule; what passes our check can be made, as it is."""
    for name in REFUSED:
        with pytest.raises(OSError):
            (exfat.root / name).touch()
        assert find_fault(name, "fat") is not None
    for name in TAKEN:
        check_name(name, "fat")
        (exfat.root / name).touch()
    assert set(TAKEN) == set(os.listdir(exfat.root))


_LOOK = """
from pathlib import Path
from workbench.card.computer import Computer
from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.profile_reader import parse_profile
text = b'schema = 1\\nname = "P"\\npanel = {width=1, height=1}\\nvolumes.data.identify = ["Shelf/"]\\n'
card = open_card("/mnt/card/data", (parse_profile(text, Path("p.toml"), "built-in"),))
volume = card.volume("data")
found = DiskTree(card).stat(VolumePath("data", "SHELF/list.TXT"))
asked = (volume.filesystem, volume.host_names, volume.case_probed, volume.cluster_bytes, volume.read_only)
print("LOOK", *asked, found is not None)
"""


def test_a_vfat_volume_is_measured_by_the_kernel_that_mounts_it(fat: Any) -> None:
    """Kernel vfat: case rule probed, cluster size as formatted, a read-only mount seen."""
    card = fat(("data",), options=("-s", "8"))
    look = shlex.join([sys.executable, "-B", "-c", _LOOK])
    fill = "mkdir /mnt/card/data/Shelf; echo Boats > /mnt/card/data/Shelf/List.txt"
    printed = card.run([fill, look, "mount -o remount,ro /mnt/card/data", look])
    seen = [line.split()[1:] for line in printed.replace("\r", "").splitlines() if line.startswith("LOOK")]
    assert seen == [["vfat", "fat", "True", "4096", read_only, "True"] for read_only in ("False", "True")], (
        printed
    )

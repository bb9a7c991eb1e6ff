"""Ejecting a real exFAT on a loop device: by umount(8), and by the stand-in disk service, which unmounts."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from exfat_mount import ExfatMount

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card, Volume
from workbench.changes.apply import apply
from workbench.changes.leaving import leave
from workbench.changes.plan import Plan, Write
from workbench.host.leaving.means import Umount

sys.path.append(str(Path(__file__).parent.parent / "host"))
from private_bus import disk_service, private_bus

pytestmark = pytest.mark.real


@pytest.fixture
def card(exfat: ExfatMount, tmp_path, monkeypatch) -> Card:
    """One file was written to it by a change."""
    monkeypatch.setenv("CARDWRIGHT_STATE", str(tmp_path / "state"))
    volume = Volume("data", exfat.root, device=exfat.device, filesystem="fuseblk", host_names="fat")
    card = Card("PRACTICE", {"data": volume}, None, "removable")
    apply(card, Plan("write", (Write(VolumePath("data", "a"), b"x" * 100_000, None),)))
    return card


def test_it_is_flushed_read_back_and_unmounted(card, exfat):
    """And what was written is there when it comes back, with nothing for fsck to say."""
    left = leave(card, choose=Umount)
    assert left.safe and left.read.files == 1 and not os.path.ismount(exfat.root)
    assert subprocess.run(["/usr/sbin/fsck.exfat", "-n", exfat.device], capture_output=True).returncode == 0
    exfat.remount_after_leaving()
    assert (exfat.root / "a").read_bytes() == b"x" * 100_000


def test_a_program_that_holds_it_is_named(card, exfat):
    """It stays mounted."""
    with subprocess.Popen(["cat"], cwd=exfat.root, stdin=subprocess.PIPE) as holder:
        left = leave(card, choose=Umount)
        holder.kill()
    assert not left.safe and os.path.ismount(exfat.root)
    assert holder.pid in {one.pid for one in left.holders}


def test_udisks_is_asked_first_where_it_answers(card, exfat, tmp_path, monkeypatch):
    """The stand-in unmounts as the real one would; then the card is safe."""
    with private_bus(tmp_path, monkeypatch), disk_service(tmp_path, power="ejectable") as journal:
        left = leave(card)
    assert left.means == "udisks" and left.safe and not os.path.ismount(exfat.root)
    assert "Eject" in journal.read_text()

"""udisks, as its reference describes it, answered by a stand-in on a private bus; never the real service."""

from __future__ import annotations

from pathlib import Path

import pytest
from private_bus import disk_service, private_bus

from workbench.host.leaving.means import LeaveError
from workbench.host.leaving.udisks import Udisks, connect


def _connect(request: pytest.FixtureRequest) -> Udisks:
    means = connect()
    assert means is not None
    request.addfinalizer(means.close)
    return means


def test_a_bus_without_udisks_is_none(tmp_path, monkeypatch):
    """Then `umount` is asked."""
    with private_bus(tmp_path, monkeypatch):
        assert connect() is None


def test_no_bus_at_all_is_none(tmp_path, monkeypatch):
    """As on a small device."""
    monkeypatch.setenv("DBUS_SYSTEM_BUS_ADDRESS", f"unix:path={tmp_path}/nobody")
    assert connect() is None


def test_a_volume_is_unmounted_by_its_device(tmp_path, monkeypatch, request):
    """The device is resolved, then its file system's Unmount is called."""
    with private_bus(tmp_path, monkeypatch), disk_service(tmp_path) as journal:
        means = _connect(request)
        means.unmount("/dev/card1", "/media/CARD")
        assert journal.read_text().splitlines()[-2:] == [
            "ResolveDevice /org/freedesktop/UDisks2/Manager",
            "Unmount /org/freedesktop/UDisks2/block_devices/card1",
        ]


@pytest.mark.parametrize(
    ("refusal", "busy", "word"), [("DeviceBusy", True, "still uses"), ("NotAuthorized", False, "not allowed")]
)
def test_a_refusal_is_told(tmp_path: Path, monkeypatch, request, refusal: str, busy: bool, word: str):
    """A busy volume is told from one that may not be unmounted."""
    with private_bus(tmp_path, monkeypatch), disk_service(tmp_path, refusal):
        means = _connect(request)
        with pytest.raises(LeaveError, match=word) as raised:
            means.unmount("/dev/card1", "/media/CARD")
        assert raised.value.busy is busy


@pytest.mark.parametrize(
    ("power", "call"), [("can-power-off", "PowerOff"), ("ejectable", "Eject"), ("neither", "")]
)
def test_the_drive_is_switched_off_where_it_can_be(
    tmp_path: Path, monkeypatch, request, power: str, call: str
):
    """By the drive's own properties; a plain slot has neither."""
    with private_bus(tmp_path, monkeypatch), disk_service(tmp_path, power=power) as journal:
        means = _connect(request)
        assert bool(means.power_off("/dev/card1")) is bool(call)
        acts = [line.split()[0] for line in journal.read_text().splitlines()]
        assert [act for act in acts if act in ("PowerOff", "Eject")] == ([call] if call else [])


def test_a_device_that_the_service_does_not_know(tmp_path, monkeypatch, request):
    """Said, and nothing unmounted."""
    with private_bus(tmp_path, monkeypatch), disk_service(tmp_path):
        means = _connect(request)
        with pytest.raises(LeaveError, match="does not know"):
            means.unmount("card1", "/media/CARD")

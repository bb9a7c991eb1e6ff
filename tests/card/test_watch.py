"""Cards that come and go are noticed."""

from __future__ import annotations

from pathlib import Path

from fake_computer import FakeComputer

from workbench.card.watch import CardWatch


def test_nothing_new_is_no_change(computer: FakeComputer) -> None:
    """Asked again and again, a quiet computer stays quiet."""
    watch = CardWatch(computer_root=computer.root)
    assert not watch.changed() and not watch.changed()


def test_a_medium_and_a_mount_are_noticed_once(computer: FakeComputer, tmp_path: Path) -> None:
    """A disk that appears, a mount, a medium taken out of a reader that stays."""
    watch = CardWatch(computer_root=computer.root)
    computer.add_disk("sdb", "usb1", removable=1)
    assert watch.changed() and not watch.changed()
    computer.mount("/dev/sdb", tmp_path)
    assert watch.changed() and not watch.changed()
    computer.remove_medium("sdb")
    assert watch.changed() and not watch.changed()


def test_a_folder_that_goes_or_is_replaced_is_noticed(computer: FakeComputer, tmp_path: Path) -> None:
    """A folder card has no mount: its root is watched; what happens inside is not."""
    desk = tmp_path / "desk"
    desk.mkdir()
    watch = CardWatch([desk], computer_root=computer.root)
    (desk / "new").touch()
    assert not watch.changed()
    desk.rename(tmp_path / "drawer")
    assert watch.changed()
    desk.mkdir()
    assert watch.changed() and not watch.changed()


def test_this_computer_can_be_watched() -> None:
    """The real tables are read without complaint."""
    assert isinstance(CardWatch().changed(), bool)

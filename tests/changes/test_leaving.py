"""Letting a card go: what is read back, what is said, and when it is safe. Unmounting is a stand-in here."""

from __future__ import annotations

from pathlib import Path

import pytest
from changes_card import card_of, make_card, make_volume, place

from workbench.card.computer import Computer
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.changes.leaving import leave
from workbench.changes.ledger import open_grounds
from workbench.changes.plan import Move, Plan, Remove, Write, digest
from workbench.changes.read_back import ReadBack, read_back
from workbench.changes.undo import plan_undo
from workbench.errors import CardError
from workbench.host.leaving.means import LeaveError
from workbench.values import replace


@pytest.fixture(autouse=True)
def own_state(tmp_path, monkeypatch):
    """What was read back before is remembered there."""
    monkeypatch.setenv("CARDWRIGHT_STATE", str(tmp_path / "state"))


def _write(card: Card, path: str, content: bytes) -> None:
    file = card.volume("data").root / path
    before = digest(file.read_bytes()) if file.exists() else None
    apply(card, Plan(f"write {path}", (Write(place(path), content, before),)))


def _read(card: Card) -> ReadBack:
    with open_grounds(card.present) as grounds:
        return read_back(card, grounds)


def test_what_a_change_wrote_is_read_back_once(tmp_path):
    """The next time there is nothing new to read."""
    card = make_card(tmp_path / "card", {"a": b"old"})
    _write(card, "a", b"new")
    assert (_read(card).files, _read(card).files) == (1, 0)


def test_the_last_change_counts_wherever_the_file_stands_by_now(tmp_path):
    """Written, moved with its folder, written again, one taken back: each file once, and as it should be."""
    card = make_card(tmp_path / "card", {"in/a": b"1", "in/b": b"1"})
    _write(card, "in/a", b"22")
    apply(card, Plan("move", (Move(place("in"), place("out")),)))
    _write(card, "out/b", b"333")
    _write(card, "out/b", b"4444")
    apply(card, plan_undo(card, 4))
    found = _read(card)
    assert (found.files, found.edited, found.damaged) == (2, [], [])


def test_an_edit_by_hand_is_told_from_damage(tmp_path):
    """It is named with the change before it, and does not keep the card from leaving."""
    card = make_card(tmp_path / "card", {"a": b"old", "b": b"old"})
    _write(card, "a", b"new")
    _write(card, "b", b"new")
    (tmp_path / "card/a").write_bytes(b"by hand")
    (tmp_path / "card/b").unlink()
    found = _read(card)
    assert {(one.at.path, one.change) for one in found.edited} == {("a", 1), ("b", 2)}
    assert not found.damaged
    assert leave(card).safe


def test_what_comes_back_otherwise_than_written_is_damage(tmp_path, monkeypatch):
    """The medium answers with other bytes than the system remembers: the card stays mounted."""
    card = make_card(tmp_path / "card", {"a": b"old"})
    _write(card, "a", b"new")
    monkeypatch.setattr(
        "workbench.changes.read_back._fingerprint_past_memory", lambda *_: ("file:3:" + "0" * 64, True)
    )
    left = leave(card)
    assert not left.safe and "Do NOT pull" in left.verdict and left.read.damaged[0].at == place("a")
    assert _read(card).damaged, "it is looked at again the next time"


def test_a_file_that_cannot_be_read_is_damage(tmp_path, monkeypatch):
    """The system's own reason is told."""
    card = make_card(tmp_path / "card", {"a": b"old"})
    _write(card, "a", b"new")

    def fail(*_: object) -> tuple[str, bool]:
        raise OSError(5, "Input/output error")

    monkeypatch.setattr("workbench.changes.read_back._fingerprint_past_memory", fail)
    assert "cannot be read" in leave(card).read.damaged[0].because


def test_removed_files_are_not_looked_for(tmp_path):
    """They are in the ledger's keep."""
    card = make_card(tmp_path / "card", {"a": b"old"})
    _write(card, "a", b"new")
    apply(card, Plan("remove", (Remove(place("a")),)))
    assert (_read(card).files, _read(card).edited) == (0, [])


def test_a_folder_has_nothing_to_pull(tmp_path):
    """It is flushed and read back all the same."""
    left = leave(make_card(tmp_path / "card", {"a": b"x"}), choose=_never)
    assert left.flushed == ("data",) and "nothing to pull" in left.verdict


def test_the_running_device_keeps_its_card(tmp_path):
    """Flushed, and refused with what to do instead."""
    card = replace(make_card(tmp_path / "card", {"a": b"x"}), source="device")
    with pytest.raises(CardError, match="Switch the device off"):
        leave(card, choose=_never)


class FakeMeans:
    """Unmounts nothing; refuses as it is told."""

    name = "stand-in"

    def __init__(self, busy: str = "", power: str = "The drive was switched off.") -> None:
        self.calls: list[str] = []
        self.busy, self.power = busy, power

    def unmount(self, device: str, point: str) -> None:
        if Path(point).name == self.busy:
            raise LeaveError("target is busy", path=point, busy=True)
        self.calls.append(f"unmount {device}")

    def power_off(self, device: str) -> str:
        self.calls.append(f"power off {device}")
        if not self.power:
            raise LeaveError("not allowed", path=device)
        return self.power

    def close(self) -> None:
        self.calls.append("close")


def _never() -> FakeMeans:
    raise AssertionError("nothing may be unmounted")


def _mounted_card(tmp_path: Path) -> tuple[Card, Path]:
    """A card of two volumes on one disk, on a computer laid out in a folder."""
    roots = [tmp_path / "media" / name for name in ("one", "two")]
    volumes = [
        replace(make_volume(root, {"a": b"x"}, root.name), device=f"/dev/sdb{number}")
        for number, root in enumerate(roots, 1)
    ]
    table = tmp_path / "computer/proc/self/mountinfo"
    table.parent.mkdir(parents=True)
    lines = ["1 0 8:1 / / rw - ext4 /dev/sda1 rw"]
    lines += [f"2 1 8:{17 + n} / {root} rw - vfat /dev/sdb{n + 1} rw" for n, root in enumerate(roots)]
    table.write_text("\n".join(lines) + "\n")
    return card_of(*volumes), tmp_path / "computer"


def _leaves_table(computer: Path, means: FakeMeans):
    """Looks at the computer; what was unmounted is no longer in its table."""

    def look() -> Computer:
        table = computer / "proc/self/mountinfo"
        gone = {call.split()[1] for call in means.calls if call.startswith("unmount")}
        lines = table.read_text().splitlines()
        table.write_text("\n".join(line for line in lines if line.split()[-2] not in gone) + "\n")
        return Computer(computer)

    return look


def test_every_volume_is_unmounted_and_the_drive_switched_off(tmp_path):
    """Last mounted first; then it is safe."""
    card, computer = _mounted_card(tmp_path)
    means = FakeMeans()
    left = leave(card, look=_leaves_table(computer, means), choose=lambda: means)
    assert means.calls == ["unmount /dev/sdb2", "unmount /dev/sdb1", "power off /dev/sdb1", "close"]
    assert left.verdict == "It is safe to pull the card now. The drive was switched off."


def test_a_busy_volume_keeps_the_card_from_being_safe(tmp_path, monkeypatch):
    """Who holds it is named, and what was unmounted already."""
    card, computer = _mounted_card(tmp_path)
    means = FakeMeans(busy="one")
    monkeypatch.chdir(tmp_path / "media/one")
    left = leave(card, look=_leaves_table(computer, means), choose=lambda: means)
    assert not left.safe and "still uses it" in left.verdict
    assert any(one.path == str(tmp_path / "media/one") for one in left.holders)
    assert any("Unmounted already" in note for note in left.notes)


def test_a_drive_that_stays_on_is_no_harm(tmp_path):
    """Unmounted is enough."""
    card, computer = _mounted_card(tmp_path)
    means = FakeMeans(power="")
    left = leave(card, look=_leaves_table(computer, means), choose=lambda: means)
    assert left.safe and any("no harm" in note for note in left.notes)


def test_a_second_mount_of_the_same_volume_is_told(tmp_path):
    """It must be unmounted there too."""
    card, computer = _mounted_card(tmp_path)
    table = computer / "proc/self/mountinfo"
    table.write_text(table.read_text() + "9 1 8:17 / /elsewhere rw - vfat bound rw\n")
    means = FakeMeans()
    left = leave(card, look=_leaves_table(computer, means), choose=lambda: means)
    assert not left.safe and "/elsewhere" in left.verdict and "power off" not in " ".join(means.calls)


def test_without_any_means_the_person_is_told(tmp_path):
    """Flushed, still mounted."""
    card, computer = _mounted_card(tmp_path)
    left = leave(card, look=lambda: Computer(computer), choose=lambda: None)
    assert not left.safe and "own way" in left.verdict

"""A volume that is read-only on purpose is opened for one change and closed on every way out."""

from __future__ import annotations

import errno
from collections.abc import Callable
from pathlib import Path

import pytest
from changes_card import make_card, place

from workbench.card.mounts import Mount
from workbench.card.read_only import ReadOnly
from workbench.card.volumes import Card
from workbench.changes import opening_up
from workbench.changes.apply import apply
from workbench.changes.opening_up import open_up
from workbench.changes.plan import Plan, Remove
from workbench.errors import PreflightError


class Machine:
    """A mount that is opened and closed, and says how often; `fail` makes the next such act fail."""

    def __init__(self, root: Path) -> None:
        self.mount = Mount(str(root), "/dev/none", "vfat", ("ro",), number="8:1", super_options=("ro",))
        self.acts: list[str] = []
        self.fail: dict[str, list[int]] = {}

    def remount(self, mount: Mount, writable: bool) -> None:
        act = "open" if writable else "close"
        self.acts.append(act)
        if self.fail.get(act):
            raise OSError(self.fail[act].pop(0), "refused")
        state = ("rw",) if writable else ("ro",)
        self.mount = Mount(mount.point, mount.device, "vfat", state, number="8:1", super_options=state)

    def mounts(self) -> tuple[Mount, ...]:
        return (self.mount,)


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Machine:
    made = Machine(tmp_path / "card")
    monkeypatch.setattr(opening_up, "read_mounts", made.mounts)
    monkeypatch.setattr(opening_up, "_PAUSE_S", 0)
    monkeypatch.setattr(
        opening_up,
        "judge_read_only",
        lambda _, role: ReadOnly(role, True, "is mounted read-only", made.mount),
    )
    return made


@pytest.fixture
def card(tmp_path: Path) -> Card:
    return make_card(tmp_path / "card", {"a": b"A"}, read_only=True)


def test_a_change_is_made_in_between(machine: Machine, card: Card, tmp_path: Path) -> None:
    """Opened once, closed once, and what we noted about it is gone."""
    with open_up(card, ["data"], machine.remount) as opening:
        assert machine.acts == ["open"] and not opening.card.volumes["data"].read_only
        apply(opening.card, Plan("Remove", (Remove(place("a")),)))
    assert machine.acts == ["open", "close"] and opening.notes == []
    assert not list(opening_up._folder().iterdir()) and not (tmp_path / "card/a").exists()


@pytest.mark.parametrize("error", [PreflightError("no"), OSError(5, "x"), KeyboardInterrupt(), SystemExit(1)])
def test_it_is_closed_whatever_happens(machine: Machine, card: Card, error: BaseException) -> None:
    """A refusal, an error of the system, a key, an exit."""
    with pytest.raises(type(error)), open_up(card, ["data"], machine.remount):
        raise error
    assert machine.acts == ["open", "close"] and machine.mount.is_read_only


def test_what_cannot_be_opened_is_refused(machine: Machine, card: Card) -> None:
    """Without the rights of root nothing is left behind."""
    machine.fail["open"] = [errno.EPERM]
    with pytest.raises(PreflightError, match="root"), open_up(card, ["data"], machine.remount):
        raise AssertionError("never reached")
    assert machine.acts == ["open"] and not list(opening_up._folder().iterdir())


def test_a_busy_volume_is_tried_again(machine: Machine, card: Card) -> None:
    """Something else still writes there for a moment."""
    machine.fail["close"] = [errno.EBUSY, errno.EBUSY]
    with open_up(card, ["data"], machine.remount) as opening:
        pass
    assert machine.acts == ["open", "close", "close", "close"] and opening.notes == []


def test_what_stays_open_is_said_and_closed_the_next_time(machine: Machine, card: Card) -> None:
    """Like after a killed program: whoever writes to that card next closes it, though it is open by then."""
    machine.fail["close"] = [errno.EBUSY] * 99
    with open_up(card, ["data"], machine.remount) as opening:
        pass
    assert (
        "could not be made read-only again" in opening.notes[0] and "mount -o remount,ro" in opening.notes[0]
    )
    machine.fail, machine.acts = {}, []
    with open_up(opening.card, [], machine.remount) as later:
        assert machine.acts == []
    assert machine.acts == ["close"] and later.notes == [] and machine.mount.is_read_only


def test_what_was_opened_before_the_last_start_is_left_alone(
    machine: Machine, card: Card, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After another start of the system, whoever opened it had a reason of their own."""
    machine.fail["close"] = [errno.EBUSY] * 99
    with open_up(card, ["data"], machine.remount) as opening:
        pass
    machine.fail, machine.acts = {}, []
    monkeypatch.setattr(opening_up, "_boot", lambda: "another")
    with open_up(opening.card, [], machine.remount):
        pass
    assert machine.acts == []


def test_one_that_fails_while_it_is_open_is_left_as_it_fell(machine: Machine, card: Card) -> None:
    """Closing it by hand would hide the sign of the error."""
    with open_up(card, ["data"], machine.remount) as opening:
        before = machine.mount
        machine.mount = Mount(
            before.point, before.device, "vfat", ("rw",), number="8:1", super_options=("ro",)
        )
    assert machine.acts == ["open"] and "sign of an error" in opening.notes[0]


def test_two_roles_on_one_mount_are_opened_once(machine: Machine, card: Card) -> None:
    """A folder that holds both volumes."""
    from workbench.values import replace

    both = replace(card, volumes={**card.volumes, "more": replace(card.volumes["data"], role="more")})
    with open_up(both, ["data", "more"], machine.remount):
        pass
    assert machine.acts == ["open", "close"]


@pytest.mark.parametrize(
    ("options", "inner", "wanted"),
    [
        (("ro", "nosuid", "relatime"), ("ro", "errors=remount-ro"), 32 | 2 | (1 << 21)),
        (("ro", "noatime"), ("rw",), 32 | 4096 | 1024),
        (("ro",), ("ro", "sync"), 32 | 16 | (1 << 24)),
    ],
)
def test_a_remount_keeps_every_other_option(
    options: tuple[str, ...], inner: tuple[str, ...], wanted: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Flags of mount(2), as <sys/mount.h> has them; a mount that alone is read-only is remounted alone."""
    import ctypes

    called: list[int] = []

    class Library:
        @staticmethod
        def mount(source: object, target: bytes, kind: object, flags: ctypes.c_ulong, data: object) -> int:
            assert (source, target, kind, data) == (None, b"/x", None, None)
            called.append(flags.value)
            return 0

    monkeypatch.setattr(ctypes, "CDLL", lambda *_, **__: Library)
    mount = Mount("/x", "/dev/none", "vfat", options, super_options=inner)
    opening_up.remount_mount(mount, True)
    opening_up.remount_mount(mount, False)
    assert called == [wanted, wanted | 1]


def test_a_read_only_volume_is_never_opened_unasked(card: Card) -> None:
    """apply alone refuses it."""
    refused: Callable[[], object] = lambda: apply(card, Plan("No", (Remove(place("a")),)))  # noqa: E731
    with pytest.raises(PreflightError, match="read-only"):
        refused()

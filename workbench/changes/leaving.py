"""Lets a card go: everything flushed, read back, unmounted, and only then said to be safe to pull.

Nothing of the card's content is changed. The card that a device runs from itself is never unmounted.
"""

from __future__ import annotations

import contextlib
import ctypes
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path

from workbench.card.computer import Computer
from workbench.card.mounts import Mount
from workbench.card.system_disks import find_disks_below
from workbench.card.volumes import Card
from workbench.changes.ground import Ground, explain
from workbench.changes.ledger import open_grounds
from workbench.changes.lock import hold_volumes
from workbench.changes.read_back import Progress, ReadBack, read_back
from workbench.changes.recover import find_unfinished
from workbench.errors import CardError, UnfinishedChangeError
from workbench.host.leaving.holders import Holder, find_holders
from workbench.host.leaving.means import LeaveError, Means, choose_means
from workbench.shown import shown
from workbench.values import dataclass, field

LIVE = (
    "this is the card that this device runs from, so it is not unmounted; everything was flushed to it. "
    "Switch the device off by its own means before you take the card out."
)
NO_MEANS = (
    "Everything was flushed, but nothing here can unmount it: use the system's own way to take a medium out "
    "safely."
)
DAMAGED = (
    "The card is still mounted: what was written does not come back whole. Do not trust this card; copy what "
    "it holds to another place, and use another one."
)


@dataclass(slots=True)
class Leaving:
    """How far it came."""

    flushed: tuple[str, ...] = ()
    """Roles of the volumes."""
    read: ReadBack = field(default_factory=ReadBack)
    unmounted: list[str] = field(default_factory=list)
    """Mount points."""
    means: str = ""
    """What unmounted them."""
    powered_off: str = ""
    """What was done to the drive, as a sentence."""
    holders: tuple[Holder, ...] = ()
    """Who kept a volume busy."""
    refused: str = ""
    """Why it could not be let go, as a sentence."""
    notes: list[str] = field(default_factory=list)
    safe: bool = False
    """Whether the card can be pulled now."""

    @property
    def verdict(self) -> str:
        """The last word, for a person."""
        if self.refused:
            return f"Do NOT pull the card. {self.refused}"
        if not self.unmounted:
            return "There is nothing to pull: this card is a folder on this computer."
        return f"It is safe to pull the card now. {self.powered_off}".rstrip()


def leave(
    card: Card,
    *,
    progress: Progress | None = None,
    power_off: bool = True,
    look: Callable[[], Computer] = Computer,
    choose: Callable[[], Means | None] = choose_means,
) -> Leaving:
    """Flush, read back, unmount, switch off.

    Raises:
        CardError: another Cardwright writes to it, a volume is gone, or it is the running device's own.
        UnfinishedChangeError: a change on it began and did not end.
    """
    found = Leaving()
    unfinished = find_unfinished(card)
    with open_grounds(card.present) as grounds, hold_volumes(grounds.values()):
        for ground in grounds.values():
            flush(ground)
        found.flushed = tuple(grounds)
        if unfinished is not None:
            raise UnfinishedChangeError(
                f"change {unfinished.number} ({unfinished.title}) on this card is unfinished, so it was not "
                f"unmounted; end it first (recover). {unfinished.caution}"
            )
        if card.source == "device":
            raise CardError(LIVE)
        found.read = read_back(card, grounds, progress)
    if found.read.damaged:
        found.refused = DAMAGED
        return found
    mounts = _list_mounts(card, look())
    if not mounts:
        found.safe = True
        _warn_of_medium(card, look(), found)
        return found
    means = choose()
    if means is None:
        found.refused = NO_MEANS
        return found
    with contextlib.closing(means):
        _unmount_all(mounts, look, means, found)
        if found.safe and power_off:
            _switch_off(mounts[0].device, means, found)
    return found


def flush(ground: Ground) -> None:
    """Have the system write everything of that volume, whoever wrote it (syncfs(2); sync(2) elsewhere).

    Raises:
        CardError: the card answered with an error: something written before is lost.
    """
    try:
        if sys.platform.startswith("linux"):
            _syncfs(ground)
        else:
            os.sync()
    except OSError as error:
        raise CardError(
            f"the volume {shown(ground.role)} could not be flushed: {explain(error)}. The card is still "
            "mounted; do not trust what was written last.",
            path=f"{ground.role}:",
        ) from error


def _syncfs(ground: Ground) -> None:
    libc = ctypes.CDLL(None, use_errno=True)
    handle = os.open(ground.root, os.O_RDONLY)
    try:
        if libc.syncfs(handle) != 0:
            code = ctypes.get_errno()
            raise OSError(code, os.strerror(code))
    finally:
        os.close(handle)


def _unmount_all(mounts: Sequence[Mount], look: Callable[[], Computer], means: Means, found: Leaving) -> None:
    found.means = means.name
    for mount in reversed(mounts):
        try:
            means.unmount(mount.device, mount.point)
        except LeaveError as error:
            _tell_refusal(mount, error, found)
            return
        found.unmounted.append(mount.point)
    still = _find_other_mounts(mounts, look())
    if still:
        found.refused = f"It is still mounted at {shown(still)} too; unmount it there."
    found.safe = not still


def _list_mounts(card: Card, computer: Computer) -> list[Mount]:
    """The mounts that are the card's volumes themselves; a folder somewhere on a disk is none.

    Raises:
        CardError: one lies on the disk that carries the running system.
    """
    mounts: dict[str, Mount] = {}
    for volume in card.present:
        root = os.path.realpath(volume.root)
        mount = computer.mount_of(Path(root))
        if mount is None or mount.point != root or root == "/":
            continue
        disks = find_disks_below(mount, computer.mounts, computer.blocks)
        if mount.point in ("/boot", "/home") or _is_system(disks, mount, computer):
            raise CardError(
                f"{shown(root)} lies on the disk that carries the running system; it was flushed and not "
                "unmounted."
            )
        mounts[mount.point] = mount
    return list(mounts.values())


def _is_system(disks: frozenset[str], mount: Mount, computer: Computer) -> bool:
    """A loop device lies on the disk that holds its file; the file may go all the same."""
    own = frozenset(computer.blocks.find_disks(mount.device, mount.number)) or disks
    return bool(own & computer.system_disks)


def _warn_of_medium(card: Card, computer: Computer, found: Leaving) -> None:
    """A folder on a stick: the stick stays mounted."""
    for volume in card.present:
        mount = computer.mount_of(volume.root)
        disks = computer.blocks.find_disks(mount.device, mount.number) if mount else ()
        if mount is not None and any(computer.blocks.is_card(disk) for disk in disks):
            found.safe = False
            found.refused = (
                f"This card is a folder on a medium that stays mounted at {shown(mount.point)}; everything "
                "was flushed. Unmount that medium before you pull it."
            )


def _find_other_mounts(mounts: Sequence[Mount], computer: Computer) -> str:
    """Another place where one of the file systems is still mounted."""
    numbers = {mount.number for mount in mounts if mount.number}
    return next((one.point for one in computer.mounts if one.number in numbers), "")


def _tell_refusal(mount: Mount, error: LeaveError, found: Leaving) -> None:
    because = error.message
    if error.busy:
        because = "a program still uses it"
        holding = find_holders(mount.point)
        found.holders = holding.holders
        if holding.unseen:
            count = f"{holding.unseen} programs" if holding.unseen > 1 else "One program"
            found.notes.append(f"{count} of other users could not be looked into; as root they can be.")
    who = "; ".join(f"{shown(one.name)} (process {one.pid}) with {shown(one.path)}" for one in found.holders)
    found.refused = f"{shown(mount.point)} is still mounted: {because}{f': {who}' if who else ''}."
    if found.unmounted:
        found.notes.append(f"Unmounted already: {', '.join(map(shown, found.unmounted))}.")


def _switch_off(device: str, means: Means, found: Leaving) -> None:
    try:
        found.powered_off = means.power_off(device)
    except LeaveError as error:
        found.notes.append(
            f"It is unmounted; the drive was not switched off ({error.message}), which is no harm."
        )

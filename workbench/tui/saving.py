"""What the page of backups asks for, done in worker threads. Knows nothing of Textual."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.card.disk_tree import DiskTree
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.changes.plan import Plan
    from workbench.jobs.backup.backup_file import Fault
    from workbench.jobs.backup.backup_list import BackupList
    from workbench.jobs.backup.comparing import Difference
    from workbench.jobs.backup.other_card import Move
    from workbench.jobs.backup.taking import Taken
    from workbench.tui.desk import Desk


@dataclass(frozen=True, slots=True)
class Saving:
    """What a backup takes."""

    everything: bool = False
    with_media: bool = False
    with_secrets: bool = False

    @property
    def words(self) -> str:
        """In words, for the line above the list."""
        if not self.everything:
            return "what the profile names, and saved games"
        return "everything" if self.with_media else "everything but large media"

    def next_scope(self) -> Saving:
        """The next of: named, everything, with media."""
        if not self.everything:
            return Saving(True, False, self.with_secrets)
        return Saving(not self.with_media, not self.with_media, self.with_secrets)


def take(desk: Desk, target: Path, saving: Saving, tell: Callable[[str, int, int], None]) -> Taken:
    """Take a backup; what is there already is replaced once the new one is whole."""
    from workbench.jobs.backup.choosing import Scope
    from workbench.jobs.backup.taking import take_backup

    scope = Scope(saving.everything, saving.with_media, saving.with_secrets)
    return take_backup(DiskTree(desk.card), desk.known_profile(), target, scope, progress=tell)


def check_target(desk: Desk, target: Path, *, replace: bool) -> None:
    """Refuse a place on the card, a folder, or a file that is there."""
    from workbench.jobs.host_target import check_host_target

    check_host_target(desk.card, target, replace=replace)


def compare(desk: Desk, path: Path) -> tuple[BackupList, Sequence[Difference]]:
    """What a backup says of itself, and how it differs from the card."""
    from workbench.jobs.backup.backup_file import BackupFile
    from workbench.jobs.backup.comparing import compare_with_card

    backup = BackupFile(path).list
    return backup, compare_with_card(
        backup, DiskTree(desk.card), desk.known_profile(), with_modes=has_modes(desk)
    )


def has_modes(desk: Desk) -> bool:
    """Whether the card keeps modes at all."""
    return all(volume.host_names == "exact" for volume in desk.card.present)


def verify(path: Path) -> Sequence[Fault]:
    """Every fault in a backup."""
    from workbench.jobs.backup.backup_file import BackupFile

    return BackupFile(path).find_faults()


def plan_back(desk: Desk, path: Path, wanted: Sequence[str]) -> Plan:
    """The restore of these files, or of all."""
    from workbench.jobs.backup.backup_file import BackupFile
    from workbench.jobs.backup.restoring import plan_restore

    return plan_restore(
        DiskTree(desk.card), desk.known_profile(), BackupFile(path), wanted, with_modes=has_modes(desk)
    )


def move_to(desk: Desk, text: str) -> Move:
    """What a move to another card would cost."""
    from workbench.jobs.backup.other_card import plan_move, read_target
    from workbench.jobs.backup.sizes import read_size

    return plan_move(desk.disk, read_target(text, read_size))

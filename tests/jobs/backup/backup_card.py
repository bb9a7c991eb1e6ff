"""A practice card and backups of it."""

from __future__ import annotations

from pathlib import Path

import practice_cards

from workbench.card.discovery import open_card
from workbench.card.disk_tree import DiskTree
from workbench.card.profile_reader import read_profile
from workbench.card.volumes import Card
from workbench.changes.apply import apply
from workbench.jobs.backup.backup_file import BackupFile
from workbench.jobs.backup.choosing import Scope
from workbench.jobs.backup.restoring import plan_restore
from workbench.jobs.backup.taking import Taken, take_backup


class BackupCard:
    """A card in a folder."""

    def __init__(self, device: str, folder: Path) -> None:
        self.device = device
        self.folder = practice_cards.lay_out(device, folder)
        self.profile = read_profile(practice_cards.profile_path(device))

    @property
    def card(self) -> Card:
        return open_card(str(self.folder), [self.profile])

    @property
    def tree(self) -> DiskTree:
        return DiskTree(self.card)

    def take(self, target: Path, **scope: object) -> Taken:
        skip = bool(scope.pop("skip_unreadable", False))
        return take_backup(self.tree, self.profile, target, Scope(**scope), skip_unreadable=skip)

    def plan(self, source: Path, *paths: str, **options: object):
        return plan_restore(self.tree, self.profile, BackupFile(source), paths, **options)

    def restore(self, source: Path, *paths: str, **options: object):
        plan = self.plan(source, *paths, **options)
        apply(self.card, plan)
        return plan

"""Takes a backup: one zip on this computer, there whole or not at all.

The card is only read. A file that cannot be read stops the backup, unless a person says to go on without.
"""

from __future__ import annotations

import hashlib
import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path

from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.errors import CardError
from workbench.host.zip_making import STORED, Packed, ZipMaking, making_zip, name_bytes
from workbench.jobs.backup.backup_list import (
    BACKUP_LIST,
    BackupList,
    SavedFile,
    make_seal,
    write_backup_list,
)
from workbench.jobs.backup.choosing import Chosen, Scope, choose_files, is_unasked_media
from workbench.jobs.backup.packing import Read, Reading, find_crc, read_pieces
from workbench.jobs.secret_files import find_secret
from workbench.shown import shown
from workbench.values import dataclass

BackupProgress = Callable[[str, int, int], None]
"""Told of each file as it is written: its path, which one it is, and how many there are."""


@dataclass(frozen=True, slots=True)
class Taken:
    """A backup that was taken."""

    path: Path
    list: BackupList
    packed_bytes: int

    @property
    def bytes(self) -> int:
        """Of all its files, unpacked."""
        return sum(one.size for one in self.list.files.values())


def take_backup(
    tree: DiskTree,
    profile: Profile,
    target: Path,
    scope: Scope | None = None,
    *,
    skip_unreadable: bool = False,
    progress: BackupProgress | None = None,
) -> Taken:
    """Write a backup of the card to `target`; what was there is replaced at the very end.

    Raises:
        CardError: a file cannot be read, or there is nothing to back up; nothing was written.
        HostWriteError: the zip cannot be written; nothing is left behind.
    """
    scope = scope or Scope()
    taking = _Taking(tree, profile, scope, skip_unreadable=skip_unreadable, progress=progress)
    if not taking.chosen.files:
        raise CardError(
            f"the card {shown(tree.card.name)} has nothing that the profile {shown(profile.name)} names; no "
            "backup was made. Say --all for everything.",
        )
    with making_zip(target) as making:
        backup = taking.run(making)
    return Taken(target, backup, target.stat().st_size)


class _Taking:
    def __init__(
        self,
        tree: DiskTree,
        profile: Profile,
        scope: Scope,
        *,
        skip_unreadable: bool,
        progress: BackupProgress | None,
    ) -> None:
        self._card = tree.card
        self._profile = profile
        self._scope = scope
        self._skip = skip_unreadable
        self._progress = progress
        self.chosen: Chosen = choose_files(tree, profile, scope)
        self._roots = {role: os.fspath(tree.card.volume(role).root) for role in tree.roles()}
        self._paths = [f"{self._roots[role]}/{path}" for role, path in self.chosen.files]
        self._files: dict[str, SavedFile] = {}
        self._left_out = {f"{role}/{path}": why for role, path, why in self.chosen.left_out}
        self._crc = find_crc()

    def run(self, making: ZipMaking) -> BackupList:
        total = len(self._paths)
        for one in Reading(self._paths, self._find_secret):
            role, path = self.chosen.files[one.place]
            name = f"{role}/{path}"
            if self._progress is not None:
                self._progress(name, one.place, total)
            why = self._find_why(name, one)
            if why:
                self._left_out[name] = why
            elif one.is_large:
                self._add_large(making, name, one)
            else:
                self._add(making, name, one)
        backup = BackupList(
            self._profile.name,
            self._card.name,
            self._scope.word,
            time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
            self._files,
            tuple(f"{role}/{path}" for role, path in self.chosen.folders),
            self._left_out,
        )
        raw = write_backup_list(backup)
        making.add(Packed(BACKUP_LIST.encode(), STORED, self._crc(raw), len(raw), raw))
        making.comment = lambda headers: make_seal(headers, hashlib.sha256(raw).hexdigest())
        return backup

    def _find_why(self, name: str, one: Read) -> str:
        """Why a file stays out; empty where it goes along."""
        if one.error is not None and one.error.errno == 0:
            return one.error.strerror or ""
        if one.error is not None:
            because = one.error.strerror or str(one.error)
            if not self._skip:
                raise CardError(
                    f"{shown(name)} cannot be read: {because}. No backup was made. Say --skip-unreadable to "
                    "save all the rest.",
                    path=name,
                )
            return f"cannot be read: {because}"
        if one.secret and not self._scope.with_secrets:
            return one.secret
        if is_unasked_media(self._profile, self._scope, *self.chosen.files[one.place], one.size):
            return f"is large ({one.size:,} bytes) and not named by the profile"
        return ""

    def _find_secret(self, place: int, head: bytes) -> str:
        return find_secret(self.chosen.files[place][1], head)

    def _add(self, making: ZipMaking, name: str, one: Read) -> None:
        raw, is_utf8 = name_bytes(name)
        making.add(
            Packed(raw, one.method, one.crc, one.size, one.content, one.mode, one.mtime_ns // 10**9, is_utf8)
        )
        self._files[name] = SavedFile(one.size, one.sha256, one.mode, one.mtime_ns, one.packed_crc)

    def _add_large(self, making: ZipMaking, name: str, one: Read) -> None:
        raw, is_utf8 = name_bytes(name)
        hashed, size = hashlib.sha256(), 0

        def watched() -> Iterator[bytes]:
            nonlocal size
            for piece in read_pieces(self._paths[one.place]):
                hashed.update(piece)
                size += len(piece)
                yield piece

        making.add_large(raw, watched(), mode=one.mode, mtime=one.mtime_ns // 10**9, is_utf8=is_utf8)
        self._files[name] = SavedFile(size, hashed.hexdigest(), one.mode, one.mtime_ns)

"""Compares a backup with another one, or with the card as it is."""

from __future__ import annotations

import os
from collections.abc import Mapping

from workbench.card.disk_tree import DiskTree
from workbench.card.profile import Profile
from workbench.jobs.backup.backup_list import BackupList, SavedFile
from workbench.jobs.backup.choosing import Scope, choose_files
from workbench.jobs.backup.packing import Reading
from workbench.typed import Literal
from workbench.values import dataclass

DifferenceKind = Literal["only-first", "only-second", "content", "mode"]


@dataclass(frozen=True, slots=True)
class Difference:
    path: str
    """`ROLE/PATH`."""
    kind: DifferenceKind
    """`mode`: the bytes are the same."""


def compare_lists(first: BackupList, second: BackupList) -> tuple[Difference, ...]:
    """What differs between two backups, by path."""
    return _compare(first.files, second.files)


def compare_with_card(
    backup: BackupList, tree: DiskTree, profile: Profile, *, with_modes: bool = True
) -> tuple[Difference, ...]:
    """What differs between a backup (first) and the card (second), of what the backup's own choice takes.

    Volumes that are absent are not looked at. A file that the backup left out on purpose is no difference.
    """
    roles = tree.roles()
    there = {path: saved for path, saved in backup.files.items() if path.partition("/")[0] in roles}
    scope = Scope(backup.scope != "named", backup.scope == "all-with-media", True)
    chosen = {f"{role}/{path}" for role, path in choose_files(tree, profile, scope).files}
    wanted = sorted((chosen | set(there)) - set(backup.left_out))
    now = read_files(tree, wanted)
    return _compare(there, now, with_modes=with_modes)


def read_files(tree: DiskTree, paths: list[str]) -> dict[str, SavedFile]:
    """The files at these places of the card, as a backup would list them; what is not there is left out."""
    found: dict[str, SavedFile] = {}
    places = [path.partition("/")[::2] for path in paths]
    hosts = [os.path.join(tree.card.volume(role).root, path) for role, path in places]
    there = [number for number, host in enumerate(hosts) if os.path.lexists(host)]
    for one in Reading([hosts[number] for number in there], lambda _, __: ""):
        path = paths[there[one.place]]
        if one.error is not None:
            found[path] = SavedFile(0, "", 0, 0)
        elif one.is_large:
            found[path] = SavedFile(one.size, _hash_large(hosts[there[one.place]]), one.mode, one.mtime_ns)
        else:
            found[path] = SavedFile(one.size, one.sha256, one.mode, one.mtime_ns)
    return found


def _hash_large(path: str) -> str:
    import hashlib

    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def _compare(
    first: Mapping[str, SavedFile], second: Mapping[str, SavedFile], *, with_modes: bool = True
) -> tuple[Difference, ...]:
    found = []
    for path in sorted({*first, *second}, key=lambda path: path.encode("utf-8", "surrogateescape")):
        one, other = first.get(path), second.get(path)
        if one is None:
            found.append(Difference(path, "only-second"))
        elif other is None:
            found.append(Difference(path, "only-first"))
        elif one.sha256 != other.sha256:
            found.append(Difference(path, "content"))
        elif with_modes and one.mode != other.mode:
            found.append(Difference(path, "mode"))
    return tuple(found)

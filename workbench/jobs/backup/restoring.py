"""Puts a backup back onto a card, all of it or chosen paths, as one plan: undoable like any other.

What is on the card already and the same is left alone, and so is what the backup does not have.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterator, Sequence

from workbench.card.disk_tree import DiskTree
from workbench.card.globs import translate
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.changes.plan import Conflict, MakeFolder, Plan, Prepared, Step, Write
from workbench.errors import CardwrightError
from workbench.jobs.backup.backup_file import BackupFile
from workbench.jobs.backup.backup_list import BackupError, SavedFile
from workbench.jobs.backup.comparing import read_files
from workbench.jobs.packs.card_fit import CardFit
from workbench.jobs.packs.judging import find_path_fault
from workbench.shown import shown

_IN_PLAN = 64 * 1024
_IN_ALL_PLAN = 16 * 1024 * 1024
_DEPTH = 200


def plan_restore(
    tree: DiskTree,
    profile: Profile,
    backup: BackupFile,
    paths: Sequence[str] = (),
    *,
    without: Sequence[str] = (),
    any_device: bool = False,
    with_modes: bool = True,
) -> Plan:
    """The plan that makes the card as the backup has it.

    Args:
        paths: `ROLE:PATH` or `ROLE/PATH` of files or folders, globs allowed; none for all.
        without: of the same form; these stay as they are on the card.
        with_modes: whether a file's mode comes back with its bytes, where the card's file system keeps it.

    Raises:
        BackupError: the backup is damaged, or of another device; or it has none of these paths.
    """
    if backup.list.profile != profile.name and not any_device:
        raise BackupError(
            f"{backup.path} is of a {shown(backup.list.profile)}, and this card is described as "
            f"{shown(profile.name)}; nothing was changed. If it is right all the same, say --any-device.",
            path=str(backup.path),
        )
    wanted = _choose(backup, paths, without)
    present = {path: saved for path, saved in wanted.items() if path.partition("/")[0] in tree.roles()}
    absent = sorted({path.partition("/")[0] for path in wanted if path not in present})
    if not present:
        raise BackupError(
            f"all that is wanted lies on {', '.join(map(shown, absent))}, which is not here; nothing was "
            "changed.",
            path=str(backup.path),
        )
    restoring = _Restoring(tree, profile, backup, with_modes=with_modes)
    steps = restoring.steps(present)
    folders = [one for one in backup.list.folders if not paths and one.partition("/")[0] in tree.roles()]
    steps += restoring.make_empty(folders)
    notes = [f"{len(restoring.same):,} files are the same on the card already."] if restoring.same else []
    if restoring.other_modes:
        first = ", ".join(map(shown, restoring.other_modes[:3]))
        more = f" and {len(restoring.other_modes) - 3} more" if len(restoring.other_modes) > 3 else ""
        notes.append(f"In their mode alone these differ, and stay as they are: {first}{more}.")
    notes += [f"The volume {shown(role)} is not here, so what belongs there is left out." for role in absent]
    return Plan(
        f"Restore {len(steps) and len(present) - len(restoring.same)} files from {backup.path.name}",
        tuple(steps),
        conflicts=tuple(restoring.conflicts),
        notes=tuple(notes),
    )


def _choose(backup: BackupFile, paths: Sequence[str], without: Sequence[str]) -> dict[str, SavedFile]:
    for path in backup.list.files:
        role, _, inner = path.partition("/")
        fault = find_path_fault(inner, "exact", _DEPTH) if role and inner else "names no volume"
        if fault and "backslash" not in fault:
            raise BackupError(
                f"{backup.path}: {shown(path)!r} {fault}; nothing was changed.", path=str(backup.path)
            )
    wanted = dict(backup.list.files)
    for pattern in paths:
        if not any(_fits(pattern, path) for path in wanted):
            raise BackupError(f"there is no {shown(pattern)} in {backup.path}; nothing was changed.")
    return {
        path: saved
        for path, saved in wanted.items()
        if (not paths or any(_fits(pattern, path) for pattern in paths))
        and not any(_fits(pattern, path) for pattern in without)
    }


def _fits(pattern: str, path: str) -> bool:
    role, colon, inner = pattern.partition(":")
    wanted = (f"{role}/{inner}" if colon else pattern).strip("/")
    if path == wanted or path.startswith(wanted + "/"):
        return True
    return translate(wanted, fold=False).match(path) is not None


class _Restoring:
    def __init__(self, tree: DiskTree, profile: Profile, backup: BackupFile, *, with_modes: bool) -> None:
        self._tree = tree
        self._backup = backup
        self._with_modes = with_modes
        self._fit = CardFit(tree, profile)
        self._made: set[VolumePath] = set()
        self._in_plan = 0
        self.same: list[str] = []
        self.other_modes: list[str] = []
        """Files that are the same but for their mode: they stay."""
        self.conflicts: list[Conflict] = []

    def steps(self, wanted: dict[str, SavedFile]) -> list[Step]:
        now = read_files(self._tree, list(wanted))
        changed: dict[str, SavedFile] = {}
        for path, saved in wanted.items():
            there = now.get(path)
            if there is not None and there.sha256 == saved.sha256:
                # A recovery knows things by their bytes: it could not tell two of one content apart.
                self.same.append(path)
                if self._with_modes and there.mode != saved.mode:
                    self.other_modes.append(path)
                continue
            fault = self._fit.find_fault(_place(path))
            if fault:
                self.conflicts.append(Conflict(_place(path), None, fault))
                continue
            changed[path] = saved
        contents = self._fetch(changed)
        return list(self._write(changed, now, contents))

    def make_empty(self, folders: Sequence[str]) -> list[Step]:
        """Folders with nothing in them."""
        steps: list[Step] = []
        for folder in folders:
            at = _place(folder)
            if self._tree.stat(at) is None and at not in self._made and not self._fit.find_fault(at):
                steps += [*self._folders(at), MakeFolder(at)]
                self._made.add(at)
        return steps

    def _write(
        self, changed: dict[str, SavedFile], now: dict[str, SavedFile], contents: dict[str, bytes | Prepared]
    ) -> Iterator[Step]:
        for path, saved in sorted(changed.items()):
            at, there = _place(path), now.get(path)
            yield from self._folders(at)
            mode = saved.mode if self._with_modes and (there is None or there.mode != saved.mode) else None
            yield Write(at, contents[path], there.sha256 if there is not None else None, mode=mode)

    def _folders(self, at: VolumePath) -> list[Step]:
        missing = [one for one in self._fit.missing_folders(at) if one not in self._made]
        self._made.update(missing)
        return [MakeFolder(one) for one in missing]

    def _fetch(self, changed: dict[str, SavedFile]) -> dict[str, bytes | Prepared]:
        """The bytes, each checked against the list.

        Raises:
            BackupError: one is damaged.
        """
        found: dict[str, bytes | Prepared] = {}

        def consume(path: str, pieces: Iterator[bytes]) -> None:
            saved = changed[path]
            if saved.size <= _IN_PLAN and self._in_plan + saved.size <= _IN_ALL_PLAN:
                self._in_plan += saved.size
                content: bytes | Prepared = b"".join(pieces)
            else:
                from workbench.host.renders import keep_stream

                file, size, sha256 = keep_stream(pieces)
                content = Prepared(str(file), size, sha256)
            given = content.sha256 if isinstance(content, Prepared) else hashlib.sha256(content).hexdigest()
            if given != saved.sha256:
                raise self._damaged(path)
            found[path] = content

        if changed:
            self._backup.visit(list(changed), consume)
        for path in changed:
            if path not in found:
                raise self._damaged(path)
        return found

    def _damaged(self, path: str) -> CardwrightError:
        return BackupError(
            f"{self._backup.path}: {shown(path)} is damaged; nothing was changed. Look with verify at what "
            "else is, and leave it out with --without PATH.",
            path=str(self._backup.path),
        )


def _place(path: str) -> VolumePath:
    role, _, inner = path.partition("/")
    return VolumePath(role, inner)

"""Steps that make a second copy of a file or folder on the same card, some files with other content.

Large files are not carried through memory: they are read from the card when the change is prepared, and
checked by hash.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Collection, Mapping

from workbench.card.paths import VolumePath
from workbench.card.tree import Item, Tree
from workbench.changes.plan import MakeFolder, Prepared, Step, Write
from workbench.errors import CardError
from workbench.jobs.renders import hold
from workbench.shown import shown

_IN_PLAN = 64 * 1024
"""Bytes of a file that travels in the plan itself."""


class Copier:
    """Copies places with their modes; links are followed, and what is no file is left out and noted."""

    def __init__(
        self,
        tree: Tree,
        names: Mapping[VolumePath, str],
        contents: Mapping[VolumePath, bytes],
        left_out: Collection[VolumePath] = (),
    ) -> None:
        """`names` and `contents`: what is called otherwise in the copy, or holds something else."""
        self._tree = tree
        self._names = names
        self._contents = contents
        self._left_out = left_out
        self.steps: list[Step] = []
        self.notes: list[str] = []
        self.copied: dict[VolumePath, VolumePath] = {}
        """Where each file and folder has its copy."""

    def copy(self, source: VolumePath, target: VolumePath) -> None:
        """Add the steps that make `target` like `source`."""
        item = self._tree.stat(self._tree.resolve(source))
        if item is None:
            raise CardError(f"{source} is no longer there; nothing was changed", path=str(source))
        self.copied[source] = target
        if item.kind == "folder":
            self._copy_folder(source, item.at, target)
        else:
            self.steps.append(Write(target, self._content(source, item), None, mode=item.mode))

    def _copy_folder(self, source: VolumePath, real: VolumePath, target: VolumePath) -> None:
        self.steps.append(MakeFolder(target))
        for item in self._tree.list(real):
            child = source.child(item.name)
            if child in self._left_out:
                continue
            if item.kind in ("file", "folder") or self._is_link_to_file(item):
                self.copy(child, target.child(self._names.get(child, item.name)))
            else:
                self.notes.append(f"{shown(str(child))} is no file or folder of its own and is not copied.")

    def _is_link_to_file(self, item: Item) -> bool:
        if item.kind != "link":
            return False
        try:
            there = self._tree.stat(self._tree.resolve(item.at))
        except CardError:
            return False
        return there is not None and there.kind == "file"

    def _content(self, source: VolumePath, item: Item) -> bytes | Prepared:
        changed = self._contents.get(source)
        if changed is not None:
            return hold(changed)
        if item.size <= _IN_PLAN:
            return self._tree.read(item.at)
        return _prepare_from_card(self._tree, item) or hold(self._tree.read(item.at))


def _prepare_from_card(tree: Tree, item: Item) -> Prepared | None:
    """The file on the card itself as what waits to be written; None on a card that is only planned."""
    card = getattr(tree, "card", None)
    if card is None:
        return None
    path = card.volume(item.at.volume).root / item.at.path
    try:
        with open(path, "rb") as file:
            sha256 = hashlib.file_digest(file, "sha256").hexdigest()
            return Prepared(os.fspath(path), item.size, sha256)
    except OSError as error:
        raise CardError(
            f"{item.at} cannot be read: {error.strerror or error}; nothing was changed", path=str(item.at)
        ) from error

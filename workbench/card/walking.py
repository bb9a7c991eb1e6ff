"""Walks a folder of this computer once: every folder below it with its names, nothing followed."""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping

from workbench.card.paths import LEDGER_FOLDER
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.tree import Listing

_LEDGER = (LEDGER_FOLDER, True)


def scan(root: str, watch: Callable[[int], None] | None = None) -> dict[str, Listing]:
    """Every folder below a volume's root with its names; links are no folders, the ledger is left out.

    Folders come before their content, by their paths below the root. One that cannot be read is empty.

    Args:
        watch: told after each folder how many there were.
    """
    folders: dict[str, Listing] = {}
    waiting = [""]
    while waiting:
        folder = waiting.pop()
        prefix = f"{folder}/" if folder else ""
        try:
            with os.scandir(f"{root}/{folder}") as found:
                names = [(one.name, one.is_dir(follow_symlinks=False)) for one in found]
        except OSError:
            names = []
        if not folder:
            names = [one for one in names if one != _LEDGER]
        folders[folder] = names
        waiting += [prefix + name for name, is_folder in reversed(names) if is_folder]
        if watch is not None:
            watch(len(folders))
    return folders


def cut_out(folders: Mapping[str, Listing], inner: str) -> dict[str, Listing] | None:
    """What `scan` gives for a folder that was walked with the one above it; None where it was not."""
    if inner not in folders:
        return None
    prefix, ledger = f"{inner}/", f"{inner}/{LEDGER_FOLDER}/"
    cut: dict[str, Listing] = {"": [one for one in folders[inner] if one != _LEDGER]}
    for folder, names in folders.items():
        if folder.startswith(prefix) and not f"{folder}/".startswith(ledger):
            cut[folder[len(prefix) :]] = names
    return cut

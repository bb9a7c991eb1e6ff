"""Finished renders of animations, each a folder in the cache under a key of what was ordered.

A folder is there whole or not at all. The same order again finds it; the oldest go when all of them take too
much, but none that some waiting plan needs.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from workbench.host.folders import cache_folder
from workbench.host.renders import KEPT_SECONDS, find_waited_for
from workbench.host.safe_write import HostWriteError

KEPT_BYTES = 512 << 20
"""What all finished renders may take, besides those that are needed."""
_COMING = ".coming-"
_ABANDONED = 24 * 3600
"""Seconds after which an unfinished render belongs to nobody any more."""


def find_folder(key: str) -> Path | None:
    """The finished render of that key."""
    folder = _store() / key
    if not folder.is_dir():
        return None
    with contextlib.suppress(OSError):
        os.utime(folder)
    return folder


@contextmanager
def making_folder() -> Iterator[Path]:
    """An empty folder to render into; it is gone afterwards unless it was kept.

    Raises:
        HostWriteError: the cache folder cannot be written to.
    """
    store = _store()
    try:
        store.mkdir(mode=0o700, parents=True, exist_ok=True)
        folder = Path(tempfile.mkdtemp(prefix=_COMING, dir=store))
    except OSError as error:
        raise HostWriteError(
            f"{store} cannot take a render: {error.strerror or error}. Nothing was made; make room there",
            path=str(store),
        ) from error
    try:
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def keep_folder(folder: Path, key: str) -> Path:
    """Give a finished render its place; whatever stood there under this key is replaced."""
    kept = _store() / key
    shutil.rmtree(kept, ignore_errors=True)
    os.rename(folder, kept)
    sweep_folders(kept)
    return kept


def sweep_folders(latest: Path | None = None) -> None:
    """Let the oldest renders go, as far as their number of bytes or their age asks for it."""
    needed = find_waited_for()
    now, taken = time.time(), 0
    with contextlib.suppress(OSError):
        folders = sorted(_store().iterdir(), key=lambda each: each.stat().st_mtime, reverse=True)
        for folder in folders:
            if folder == latest or folder.name in needed:
                continue
            age = now - folder.stat().st_mtime
            taken += 0 if folder.name.startswith(_COMING) else _size_of(folder)
            most = _ABANDONED if folder.name.startswith(_COMING) else KEPT_SECONDS
            if age > most or taken > KEPT_BYTES:
                shutil.rmtree(folder, ignore_errors=True)


def _store() -> Path:
    return cache_folder() / "animations"


def _size_of(folder: Path) -> int:
    return sum(file.stat().st_size for file in os.scandir(folder))

"""Renders in waiting: content too large for a plan file, kept in the cache folder under its own hash.

A render belongs to the plans that name it; dropping the last of them drops the render. What a crash left
behind goes when it is older than any plan that a person still means.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import time
from collections.abc import Iterable
from pathlib import Path

from workbench.host.folders import cache_folder, state_folder
from workbench.host.safe_write import HostWriteError, write_safely

KEPT_SECONDS = 90 * 24 * 3600


def keep_render(content: bytes) -> Path:
    """Lay `content` in the cache under its SHA-256 and say where; the same content is kept once."""
    path = cache_folder() / "renders" / hashlib.sha256(content).hexdigest()
    if _holds(path, content):
        with contextlib.suppress(OSError):
            os.utime(path)
        return path
    write_safely(path, content)
    _sweep(path.parent)
    return path


def keep_stream(pieces: Iterable[bytes]) -> tuple[Path, int, str]:
    """As `keep_render`, for content that comes piece by piece; answers its path, size and SHA-256.

    Raises:
        HostWriteError: the disk is full, or the cache folder cannot be written to; no leftover stays.
    """
    import tempfile

    folder = cache_folder() / "renders"
    hashed, size, waiting = hashlib.sha256(), 0, ""
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        descriptor, waiting = tempfile.mkstemp(prefix=".coming.", dir=folder)
        with open(descriptor, "wb") as file:
            for piece in pieces:
                hashed.update(piece)
                size += len(piece)
                file.write(piece)
        path = folder / hashed.hexdigest()
        os.replace(waiting, path)
    except BaseException as error:
        with contextlib.suppress(OSError):
            os.unlink(waiting)
        if isinstance(error, OSError):
            raise HostWriteError(
                f"{folder} cannot take what is being unpacked: {error.strerror or error}. "
                "Nothing was written to the card; make room there.",
                path=str(folder),
            ) from error
        raise
    _sweep(folder)
    return path, size, hashed.hexdigest()


def drop_render(path: Path) -> None:
    """Forget a render; one that a plan waits with, that is gone, or that is none of ours is left alone."""
    if path.parent == cache_folder() / "renders" and path.name not in find_waited_for():
        with contextlib.suppress(OSError):
            path.unlink()


def waiting_folder() -> Path:
    """Where waiting plans lie, one JSON file a card; `renders` in it lists the renders that it waits with."""
    return state_folder() / "waiting"


def find_waited_for() -> set[str]:
    """Names of the renders that some card's waiting plan needs."""
    needed: set[str] = set()
    for file in waiting_folder().glob("*.json"):
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError):
            needed.update(json.loads(file.read_bytes())["renders"])
    return needed


def _holds(path: Path, content: bytes) -> bool:
    try:
        return path.read_bytes() == content
    except OSError:
        return False


def _sweep(folder: Path) -> None:
    oldest = time.time() - KEPT_SECONDS
    needed = find_waited_for()
    with contextlib.suppress(OSError):
        for item in os.scandir(folder):
            is_old = item.is_file(follow_symlinks=False) and item.stat().st_mtime < oldest
            if is_old and item.name not in needed:
                os.unlink(item)

"""Renders in waiting: content too large for a plan file, kept in the cache folder under its own hash.

A render belongs to the plan that names it; dropping the plan drops the render.
"""

from __future__ import annotations

import contextlib
import hashlib
from pathlib import Path

from workbench.host.folders import cache_folder
from workbench.host.safe_write import write_safely


def keep_render(content: bytes) -> Path:
    """Lay `content` in the cache under its SHA-256 and say where; the same content is kept once."""
    path = cache_folder() / "renders" / hashlib.sha256(content).hexdigest()
    if not _holds(path, content):
        write_safely(path, content)
    return path


def drop_render(path: Path) -> None:
    """Forget a render; one that is gone, or that is no render of ours, is left alone."""
    if path.parent == cache_folder() / "renders":
        with contextlib.suppress(OSError):
            path.unlink()


def _holds(path: Path, content: bytes) -> bool:
    try:
        return path.read_bytes() == content
    except OSError:
        return False

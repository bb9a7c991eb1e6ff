"""What a thing on a card is known by, wherever it stands: recovery decides by these, not by names.

A file is known by its size and SHA-256; a very large one by its size and the hash of head, middle and tail.
A folder is known by the names, kinds and sizes in it, save those that the change itself moves or writes.
A link is known by its target.
"""

from __future__ import annotations

import hashlib
import os
from collections.abc import Set

from workbench.card.tree import Kind
from workbench.changes.ground import Ground, kind_of, read_chunks

WHOLE_BYTES = 64 * 1024 * 1024
"""Files up to this size are hashed whole."""
_SAMPLE = 256 * 1024
_MOST_NAMES = 400
_MOST_LEVELS = 4


def take_fingerprint(ground: Ground, path: str, skip: Set[str] = frozenset()) -> str | None:
    """The fingerprint of what is at the path, or None where nothing is.

    `skip`: paths relative to a folder that do not count, with all below them.
    """
    found = ground.lstat(path)
    if found is None:
        return None
    kind = kind_of(found)
    if kind == "file":
        return fingerprint_file(ground, path, found.st_size)
    if kind == "folder":
        return _fingerprint_folder(ground, path, skip)
    return f"link:{ground.read_link(path)}" if kind == "link" else f"other:{found.st_mode}"


def fingerprint_file(ground: Ground, path: str, size: int) -> str:
    """A file's fingerprint."""
    with ground.reading(path) as handle:
        if size > WHOLE_BYTES:
            return _sample(handle, size)
        hashed = hashlib.sha256()
        for piece in read_chunks(handle):
            hashed.update(piece)
    return name_content(size, hashed.hexdigest())


def name_content(size: int, sha256: str) -> str:
    """The fingerprint of a file with that content (at most `WHOLE_BYTES`)."""
    return f"file:{size}:{sha256}"


def kind_in(fingerprint: str) -> Kind:
    """The kind of thing that a fingerprint is of."""
    word = fingerprint.partition(":")[0]
    kinds: dict[str, Kind] = {"file": "file", "large": "file", "folder": "folder", "link": "link"}
    return kinds.get(word, "other")


def _sample(handle: int, size: int) -> str:
    hashed = hashlib.sha256()
    for start in (0, size // 2, size - _SAMPLE):
        hashed.update(os.pread(handle, _SAMPLE, start))
    return f"large:{size}:{hashed.hexdigest()}"


def _fingerprint_folder(ground: Ground, path: str, skip: Set[str]) -> str:
    hashed = hashlib.sha256()
    names = 0
    level = [""]
    for _ in range(_MOST_LEVELS):
        below: list[str] = []
        for inner in level:
            for line, folder in _describe(ground, f"{path}/{inner}" if inner else path, inner, skip):
                hashed.update(line)
                names += 1
                if folder is not None:
                    below.append(folder)
        if names > _MOST_NAMES or not below:
            break
        level = below
    return f"folder:{hashed.hexdigest()}"


def _describe(ground: Ground, path: str, inner: str, skip: Set[str]) -> list[tuple[bytes, str | None]]:
    """A line for each name in a folder, sorted, and the folder's path where it is one."""
    lines: list[tuple[bytes, str | None]] = []
    for name, found in sorted(ground.scan(path), key=lambda one: one[0]):
        below = f"{inner}/{name}" if inner else name
        if below in skip:
            continue
        kind = kind_of(found)
        size = found.st_size if kind == "file" else 0
        line = f"{kind} {size} {below}\0".encode("utf-8", "surrogateescape")
        lines.append((line, below if kind == "folder" else None))
    return lines

"""A second copy of a small folder in one run of bytes: a line of JSON lists what is in it, the files follow.

What the change itself moves or writes inside the folder is left out; it is a thing of its own. Folders come
back with the modes that the volume gives them: FAT, where names are lost, keeps none.
"""

from __future__ import annotations

import json
import os
from collections.abc import Iterator, Set
from typing import Any

from workbench.changes.ground import Flush, Ground, kind_of, read_chunks, write_all
from workbench.changes.metadata import Metadata, put_metadata, read_metadata
from workbench.errors import LedgerError

_MOST_NAMES = 200


def copy_folder(ground: Ground, path: str, skip: Set[str], limit: int) -> bytes | None:
    """All that is in a folder, or None where it is more than `limit` bytes, 200 names, or holds what is
    neither file, folder nor link.

    Args:
        skip: paths relative to the folder that are left out, with all below them.
    """
    listed: list[list[Any]] = []
    contents: list[bytes] = []
    left = limit
    for inner, found in _walk(ground, path, skip):
        kind = kind_of(found)
        left -= found.st_size if kind == "file" else 0
        if left < 0 or len(listed) == _MOST_NAMES or kind == "other":
            return None
        content, metadata = _read(ground, f"{path}/{inner}", kind)
        listed.append([inner, kind, len(content), metadata])
        contents.append(content)
    return json.dumps(listed).encode("ascii") + b"\n" + b"".join(contents)


def make_folder_again(ground: Ground, raw: bytes, path: str) -> None:
    """Make the folder at `path`, where nothing is, with all that `copy_folder` put into `raw`, flushed.

    Raises:
        LedgerError: a file cannot be made there.
    """
    line, _, contents = raw.partition(b"\n")
    ground.make_folder(path)
    flush = Flush()
    folders = [path]
    for inner, kind, size, metadata in json.loads(line):
        target, content, contents = f"{path}/{inner}", contents[:size], contents[size:]
        if kind == "folder":
            ground.make_folder(target)
            folders.append(target)
        elif kind == "link":
            ground.make_link(target, os.fsdecode(content))
        else:
            with ground.creating(target, flush) as handle:
                write_all(handle, content)
                put_metadata(ground, handle, Metadata.from_json(metadata), times=True)
    flush.run()
    for folder in folders:
        ground.sync_folder(folder)
    if contents:
        raise LedgerError("the copy of a folder is longer than what it lists")


def _walk(ground: Ground, path: str, skip: Set[str]) -> Iterator[tuple[str, os.stat_result]]:
    """Everything below, a folder before what is in it, with paths relative to the first."""
    waiting = [""]
    while waiting:
        inner = waiting.pop()
        for name, found in ground.scan(f"{path}/{inner}" if inner else path):
            below = f"{inner}/{name}" if inner else name
            if below in skip:
                continue
            yield below, found
            if kind_of(found) == "folder":
                waiting.append(below)


def _read(ground: Ground, path: str, kind: str) -> tuple[bytes, dict[str, Any] | None]:
    if kind == "folder":
        return b"", None
    if kind == "link":
        return os.fsencode(ground.read_link(path)), None
    with ground.reading(path) as handle:
        return b"".join(read_chunks(handle)), read_metadata(ground, handle).to_json()

"""Makes a thing of a change again when it stands nowhere: from the pack, or from the file that was edited."""

from __future__ import annotations

import contextlib
from collections.abc import Iterable

from workbench.changes.fingerprint import name_content
from workbench.changes.folder_copy import make_folder_again
from workbench.changes.ground import Ground, kind_of, write_all
from workbench.changes.host_keep import check_copies, read_host_pack, read_pieces
from workbench.changes.metadata import Metadata, put_metadata, put_mode
from workbench.changes.pack import read_packed
from workbench.changes.plan import digest
from workbench.changes.record import Record
from workbench.changes.touched import Touched
from workbench.errors import LedgerError
from workbench.manifests.document import Edit, apply_edits

PACKS = {"pack": "kept.pack", "moved": "moved.pack"}
"""The file in the change's folder that holds a thing's second copy."""
PART = ".part"
"""At the end of the name of a folder that is being made again."""


def remake(ground: Ground, record: Record, thing: Touched, path: str) -> None:
    """Make it at `path`, where nothing is, flushed; what could not be finished is taken away again.

    Raises:
        LedgerError: nothing is kept to make it from, or that is damaged.
    """
    if thing.is_made_folder:
        ground.make_folder(path)
        return
    content: Iterable[bytes]
    if thing.copy == "host":
        content = read_pieces(record, ground.role, thing.id)
    else:
        content = (read_copy(ground, record, thing),)
    if thing.kind == "folder":
        _remake_folder(ground, b"".join(content), path)
        return
    try:
        with ground.creating(path) as handle:
            for piece in content:
                write_all(handle, piece)
            dress(ground, record, thing, handle)
    except (OSError, LedgerError):
        with contextlib.suppress(OSError):
            ground.remove_file(path)
        raise


def _remake_folder(ground: Ground, content: bytes, path: str) -> None:
    """Whole or not at all: it gets its name when everything is in it."""
    part = path + PART
    remove_tree(ground, part)
    make_folder_again(ground, content, part)
    ground.rename(part, path)


def remove_tree(ground: Ground, path: str) -> None:
    """Take away working files of ours, as far as that can be done; no link is followed."""
    found = None
    with contextlib.suppress(OSError):
        found = ground.lstat(path)
    if found is None:
        return
    with contextlib.suppress(OSError):
        if kind_of(found) != "folder":
            ground.remove_file(path)
            return
        for name in ground.names(path):
            remove_tree(ground, f"{path}/{name}")
        ground.remove_folder(path)


def dress(ground: Ground, record: Record, thing: Touched, handle: int) -> None:
    """Give a file what belongs to it besides its bytes; new content takes it from the file it replaces."""
    original = thing if thing.metadata is not None else _original_of(record, thing)
    if original is not None and original.metadata is not None:
        put_metadata(ground, handle, _with_mode(original.metadata, thing.mode), times=original is thing)
    elif thing.mode is not None:
        put_mode(ground, handle, thing.mode)


def _with_mode(metadata: Metadata, mode: int | None) -> Metadata:
    if mode is None:
        return metadata
    return Metadata(mode, metadata.uid, metadata.gid, metadata.mtime_ns, metadata.xattrs, metadata.attributes)


def read_copy(ground: Ground, record: Record, thing: Touched) -> bytes:
    """The bytes of a thing that the ledger has a second copy of.

    Raises:
        LedgerError: it has none, or a damaged one.
    """
    if thing.copy in PACKS:
        packed = record.packs[ground.role][thing.id]
        if thing.copy == "pack" and ground.role in record.kept_on:
            return read_host_pack(record, ground.role, packed)
        return read_packed(ground, f"{record.folder}/{PACKS[thing.copy]}", packed)
    if thing.copy == "host":
        return b"".join(read_pieces(record, ground.role, thing.id))
    original = _original_of(record, thing)
    if thing.copy == "edits" and original is not None:
        content = replay(read_copy(ground, record, original), thing.edits)
        if name_content(len(content), digest(content)) == thing.fingerprint:
            return content
    raise LedgerError("no copy of it is kept")


def can_remake(ground: Ground, record: Record, thing: Touched) -> bool:
    """Whether the ledger has a whole second copy of it."""
    try:
        if thing.copy == "host":
            check_copies(record, ground.role, thing.id)
        else:
            read_copy(ground, record, thing)
    except (LedgerError, OSError):
        return False
    return True


def replay(content: bytes, levels: tuple[tuple[Edit, ...], ...]) -> bytes:
    """Edits made on edits, in order."""
    for edits in levels:
        content = apply_edits(content, edits)
    return content


def _original_of(record: Record, thing: Touched) -> Touched | None:
    """The file that a new content replaces."""
    return None if thing.replaces is None else record.thing(thing.replaces)

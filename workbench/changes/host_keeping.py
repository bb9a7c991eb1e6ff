"""Fills a folder of this computer with what a volume is too full to keep itself, only when asked for.

Nothing is replaced on the card before its copy here is flushed, read again and found right (`check_keep`);
what was removed leaves the card only after that.
"""

from __future__ import annotations

import contextlib
import hashlib
import os
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.changes.ground import Ground, kind_of, read_chunks, write_all
from workbench.changes.host_keep import ABOUT, HostCopy, HostKeep, drop_folder
from workbench.changes.touched import Touched
from workbench.errors import PreflightError
from workbench.host.folders import state_folder
from workbench.shown import shown
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.changes.record import Record


def check_keep_folder(card: Card, folder: Path) -> Path:
    """The folder that kept copies may go to, as an absolute path; it need not be there yet.

    Raises:
        PreflightError: it lies on the card itself, is a file, or may not be written to.
    """
    full = folder.expanduser().resolve()
    anchor = next(one for one in (full, *full.parents) if one.exists())
    device = anchor.stat().st_dev
    for volume in card.present:
        root = volume.root.resolve()
        on_card = device == root.stat().st_dev and device != state_folder().stat().st_dev
        if on_card or root == full or root in full.parents:
            raise PreflightError(
                f"the folder {shown(str(full))} is on the card itself (volume {shown(volume.role)}), and "
                "what that has no room for cannot be kept there. Nothing was changed; name a folder on this "
                "computer.",
                path=str(full),
            )
    if not anchor.is_dir() or not os.access(anchor, os.W_OK):
        raise PreflightError(
            f"the folder {shown(str(full))} is no folder that you may write to. Nothing was changed; name "
            "another one.",
            path=str(full),
        )
    return full


class HostKeeping:
    """The folder of one change on the host while it is being filled."""

    def __init__(self, folder: Path, record: Record) -> None:
        self.folder = folder / f"kept-{record.id}"
        self.record = record
        self._host: Ground | None = None
        self.is_made = False

    def open(self, role: str) -> tuple[Ground, HostKeep]:
        """The volume's part, made new.

        Raises:
            PreflightError: the host refused.
        """
        with self.telling():
            if self._host is None:
                self.folder.mkdir(mode=0o700, parents=True)
                self.is_made = True
                self._host = Ground("host", self.folder, fat=False)
                with self._host.creating(ABOUT) as handle:
                    write_all(handle, self._about().encode())
            inner = folder_name(self.record, role)
            self._host.make_folder(inner)
        return self._host, HostKeep(f"{self.folder}/{inner}")

    @contextlib.contextmanager
    def telling(self) -> Iterator[None]:
        """Makes a sentence of what the host refuses."""
        try:
            yield
        except OSError as error:
            raise PreflightError(
                f"the copies could not be kept in {shown(str(self.folder))}: {error.strerror or error}. "
                "Nothing was changed on the card; name another folder with --keep-on.",
                path=str(self.folder),
            ) from error

    def flush_folders(self) -> None:
        """Flush the names of all that was made here."""
        if self._host is None:
            return
        with self.telling():
            for folder, _, _ in os.walk(self.folder):
                inner = os.path.relpath(folder, self.folder)
                self._host.sync_folder("" if inner == "." else inner)
            with Ground("host", self.folder.parent, fat=False) as above:
                above.sync_folder("")

    def discard(self) -> None:
        """Take it all away again."""
        if self.is_made:
            drop_folder(self.folder)

    def __enter__(self) -> HostKeeping:
        return self

    def __exit__(self, *_: object) -> None:
        if self._host is not None:
            self._host.close()
            self._host = None

    def _about(self) -> str:
        return (
            f"Kept copies of change {self.record.number} ({shown(self.record.title)}), id {self.record.id}.\n"
            "The card was too full to keep them. Undo needs them; without them that change stays as it is.\n"
        )


def folder_name(record: Record, role: str) -> str:
    """The volume's part of a change's folder; roles are names from a card, numbers are safe."""
    return f"volume-{list(record.previous).index(role) + 1}"


def is_to_hand_over(thing: Touched, things: Iterable[Touched]) -> bool:
    """Whether it is removed as it is, so that a copy on the host can stand for it in the end."""
    is_removed = not thing.is_new and thing.replaced_by is None and thing.final == thing.rest
    holds_others = any(place.base == thing.id for other in things for place in other.visited)
    return is_removed and thing.kind in ("file", "folder") and not holds_others


def copy_thing(
    source: Ground, path: str, thing: Touched, host: Ground, inner: str
) -> tuple[HostCopy, ...] | None:
    """Copy a file, or a folder with all in it, flushed; None where it holds a link, of which no copy can be.

    Raises:
        OSError: the card or the host refused.
    """
    rows = _list_below(source, path, thing.id)
    if rows is None:
        return None
    copied = []
    for row in rows:
        below = f"{path}/{row.path}" if row.path else path
        if row.is_folder and row.size < 0:
            host.make_folder(f"{inner}/{row.place}")
            copied.append(replace(row, size=0))
        else:
            copied.append(_copy_file(source, below, row, host, inner))
    return tuple(copied)


def _list_below(source: Ground, path: str, thing: int, below: str = "") -> list[HostCopy] | None:
    """Rows without hashes, folders (size -1) first; None where something is neither file nor folder."""
    found = source.lstat(f"{path}/{below}" if below else path)
    if found is None:
        raise FileNotFoundError(2, "No such file or directory", path)
    mode, kind = found.st_mode & 0o7777, kind_of(found)
    if kind == "file":
        return [HostCopy(thing, below, found.st_size, "", mode)]
    if kind != "folder":
        return None
    rows = [HostCopy(thing, below, -1, "", mode)]
    for name in source.names(f"{path}/{below}" if below else path):
        inner = _list_below(source, path, thing, f"{below}/{name}" if below else name)
        if inner is None:
            return None
        rows += inner
    return rows


def _copy_file(source: Ground, path: str, row: HostCopy, host: Ground, inner: str) -> HostCopy:
    hashed, size = hashlib.sha256(), 0
    with source.reading(path) as old, host.creating(f"{inner}/{row.place}") as handle:
        for piece in read_chunks(old):
            hashed.update(piece)
            size += len(piece)
            write_all(handle, piece)
    return replace(row, size=size, sha256=hashed.hexdigest())

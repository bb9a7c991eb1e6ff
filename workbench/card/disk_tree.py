"""The card as it is. A `DiskTree` is one look at a card: make a new one after a change (it costs nothing).

Reads only. A link is never followed out of its volume: every folder on the way to a file is known to be
a real one (or its links are resolved first), and the file itself is opened without following.
"""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterator, Mapping

from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.tree import Item, Kind, Listing
from workbench.card.volumes import Card
from workbench.card.walking import scan
from workbench.errors import CardError
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from workbench.card.scout import Scout

_CACHE_BYTES = 32 * 1024 * 1024
_CACHED_FILE_BYTES = 1024 * 1024
_MAX_LINKS = 40
"""Links followed on one path before it counts as a circle (as Linux does: path_resolution(7))."""

_READ = os.O_RDONLY | getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)


class DiskTree:
    """A `Tree` on the volumes of a card that are present."""

    def __init__(self, card: Card) -> None:
        self.card = card
        self.host_roots: Mapping[str, str] = {volume.role: os.fspath(volume.root) for volume in card.present}
        """Where each volume is on this computer, by role."""
        self._identities = {role: _identify(root) for role, root in self.host_roots.items()}
        self._real: set[tuple[str, str]] = {(role, "") for role in self.host_roots}
        """Folders known to be reached without a link."""
        self._walks: dict[str, Mapping[str, Listing]] = {}
        self.scout: Scout | None = None
        """Who walks ahead of this tree, while anybody does."""
        self.watch: Callable[[int], None] | None = None
        """Told how many folders were listed so far, after each; may raise to end the walk."""
        self._texts: dict[VolumePath, tuple[tuple[int, int, int], bytes]] = {}
        self._cached = 0

    def roles(self) -> tuple[str, ...]:
        """The roles of the volumes that are present."""
        return tuple(self.host_roots)

    def names_rule(self, volume: str) -> Literal["fat", "exact"]:
        """The host's rule for names on that volume."""
        return self.card.volume(volume).host_names

    def order_follows_moves(self, volume: str) -> bool:
        """Whether a folder there lists its names in the order in which they came."""
        from workbench.card.slot_order import keeps_slots

        there = self.card.volume(volume)
        return keeps_slots(there.filesystem, there.device, os.fspath(there.root))

    def list(self, folder: VolumePath) -> tuple[Item, ...]:
        """What the folder holds, in the folder's own order; the ledger's folder is left out."""
        place = self.resolve(folder)
        items = []
        try:
            with os.scandir(self._host_path(place)) as found:
                for one in found:
                    if place.path or one.name != LEDGER_FOLDER:
                        items.append(_make_item(folder.child(one.name), one.stat(follow_symlinks=False)))
        except OSError as error:
            raise self._explain(folder, error, "list") from error
        self._check_there(folder.volume)
        if place == folder:
            self._real.update((at.volume, at.path) for at in (i.at for i in items if i.kind == "folder"))
        return tuple(items)

    def stat(self, at: VolumePath) -> Item | None:
        """The item at that place as the host finds it, a link itself, or None."""
        if at.is_in_ledger:
            return None
        try:
            place = self._find_parent(at)
            return _make_item(at, os.lstat(self._host_path(place)))
        except OSError as error:
            if error.errno in (errno.ENOENT, errno.ENOTDIR, errno.ENAMETOOLONG, errno.EINVAL):
                self._check_there(at.volume)
                return None
            raise self._explain(at, error, "look at") from error

    def read(self, at: VolumePath, limit: int | None = None) -> bytes:
        """A file's bytes (at most `limit` where given); links within the volume are followed."""
        try:
            return self._read(at, limit)
        except OSError as error:
            raise self._explain(at, error, "read") from error

    def resolve(self, at: VolumePath) -> VolumePath:
        """The place that `at` leads to, links within the volume followed.

        Raises:
            CardError: a link leads out of the volume, or in a circle, or the path goes through a file.
        """
        if (at.volume, at.path) in self._real:
            return at
        self._host_path(at)
        try:
            return self._follow(at)
        except OSError as error:
            raise self._explain(at, error, "follow") from error

    def walk(self, folder: VolumePath) -> Iterator[Item]:
        """Everything below the folder, depth first, folders before their content, no links followed."""
        for item in self.list(folder):
            yield item
            if item.kind == "folder":
                yield from self.walk(item.at)

    def walk_names(self, volume: str) -> tuple[tuple[str, bool], ...]:
        """The whole volume as (path, whether it is a folder), without a stat for each file.

        Folders come before their content; links are listed as no folders.
        A folder that cannot be listed is listed itself and left closed.
        """
        return tuple(
            (f"{folder}/{name}" if folder else name, is_folder)
            for folder, names in self.walk_folders(volume).items()
            for name, is_folder in names
        )

    def walk_folders(self, volume: str) -> Mapping[str, Listing]:
        """The same folder by folder (`""` is the root): names, each with whether it is a folder.

        Walked once for this tree.
        """
        if volume not in self._walks:
            self.card.volume(volume)
            walks = self.scout.walks() if self.scout is not None and not self._walks else None
            for role, folders in (walks or {volume: scan(self.host_roots[volume], self.watch)}).items():
                self._check_there(role)
                self._walks[role] = folders
                self._real.update((role, folder) for folder in folders)
        return self._walks[volume]

    def _read(self, at: VolumePath, limit: int | None) -> bytes:
        place = self._find_parent(at)
        try:
            handle = os.open(self._host_path(place), _READ)
        except OSError as error:
            if error.errno not in (errno.ELOOP, errno.EMLINK):
                raise
            place = self._follow(at)
            handle = os.open(self._host_path(place), _READ)
        try:
            return self._read_handle(place, handle, limit)
        finally:
            os.close(handle)

    def _find_parent(self, at: VolumePath) -> VolumePath:
        """The same place with the links on the way to it followed, itself not."""
        self._host_path(at)
        if not at.path or (at.volume, at.path.rpartition("/")[0]) in self._real:
            return at
        return self._follow(at.parent).child(at.name)

    def _read_handle(self, place: VolumePath, handle: int, limit: int | None) -> bytes:
        found = os.fstat(handle)
        if not stat.S_ISREG(found.st_mode):
            code = errno.EISDIR if stat.S_ISDIR(found.st_mode) else errno.EINVAL
            raise OSError(code, os.strerror(code))
        mark = (found.st_ino, found.st_size, found.st_mtime_ns)
        kept = self._texts.get(place)
        if kept is not None and kept[0] == mark:
            return kept[1] if limit is None else kept[1][:limit]
        raw = _read_all(handle, found.st_size if limit is None else min(limit, found.st_size))
        if len(raw) == found.st_size <= _CACHED_FILE_BYTES and self._cached + len(raw) <= _CACHE_BYTES:
            self._texts[place] = (mark, raw)
            self._cached += len(raw)
        return raw

    def _follow(self, at: VolumePath) -> VolumePath:
        """Walk component by component, as the kernel would, but never above the volume's root."""
        done: list[str] = []
        waiting = at.path.split("/")[::-1] if at.path else []
        links = 0
        while waiting:
            part = waiting.pop()
            if part in ("", "."):
                continue
            if part == "..":
                if not done:
                    raise self._leads_out(at)
                done.pop()
                continue
            here = VolumePath(at.volume, "/".join((*done, part)))
            found = os.lstat(self._host_path(here))
            if not stat.S_ISLNK(found.st_mode):
                done.append(part)
                if stat.S_ISDIR(found.st_mode):
                    self._real.add((at.volume, here.path))
                continue
            links += 1
            if links > _MAX_LINKS:
                raise CardError(
                    f"the link {shown(str(at))} leads in a circle; nothing was changed. Remove the link.",
                    path=str(at),
                )
            waiting += self._read_link(at, here).split("/")[::-1]
        return VolumePath(at.volume, "/".join(done))

    def _read_link(self, at: VolumePath, link: VolumePath) -> str:
        """A link's target, relative to the link's folder."""
        target = os.readlink(self._host_path(link))
        if target.startswith("/"):
            raise self._leads_out(at)
        return target

    def _leads_out(self, at: VolumePath) -> CardError:
        return CardError(
            f"{shown(str(at))} is reached through a link that leads out of the volume; it was not followed "
            "and nothing was changed. Replace the link by a plain file or folder.",
            path=str(at),
        )

    def _host_path(self, at: VolumePath) -> str:
        root = self.host_roots.get(at.volume)
        if root is None:
            self.card.volume(at.volume)
            raise CardError(f"the volume {shown(at.volume)!r} is absent", path=str(at))
        return f"{root}/{at.path}" if at.path else root

    def _check_there(self, volume: str) -> None:
        now = _identify(self.host_roots[volume])
        if now is None or now != self._identities[volume]:
            raise CardError(
                f"the card {shown(self.card.name)} is no longer there: {shown(self.host_roots[volume])} is "
                "gone; nothing was changed. Put the card back and try again.",
                path=f"{volume}:",
            )

    def _explain(self, at: VolumePath, error: OSError, verb: str) -> CardError:
        try:
            self._check_there(at.volume)
        except CardError as gone:
            return gone
        reason = _REASONS.get(error.errno or 0, error.strerror or "the system refused it")
        place = shown(str(at)) if at.path else f"the root of {shown(at.volume)}"
        return CardError(f"cannot {verb} {place}: {reason}; nothing was changed.", path=str(at))


_REASONS = {
    errno.ENOENT: "there is no such file or folder",
    errno.ENOTDIR: "a part of the path is a file, not a folder",
    errno.EISDIR: "it is a folder, not a file",
    errno.EINVAL: "it is neither a file nor a folder",
    errno.ENXIO: "it is neither a file nor a folder",
    errno.EACCES: "you are not allowed to",
    errno.EPERM: "you are not allowed to",
    errno.EIO: "the card answered with a read error; copy what you need from it soon",
    errno.ENAMETOOLONG: "the name is too long for this file system",
}


def _identify(root: str) -> tuple[int, int] | None:
    """What tells a volume from the empty mount point that it leaves behind."""
    try:
        found = os.stat(root)
    except OSError:
        return None
    return (found.st_dev, found.st_ino) if stat.S_ISDIR(found.st_mode) else None


def _read_all(handle: int, size: int) -> bytes:
    raw = os.read(handle, size) if size else b""
    if len(raw) == size:
        return raw
    pieces = [raw]
    left = size - len(raw)
    while left > 0 and pieces[-1]:
        pieces.append(os.read(handle, left))
        left -= len(pieces[-1])
    return b"".join(pieces)


def _make_item(at: VolumePath, found: os.stat_result) -> Item:
    kind = _KINDS.get(stat.S_IFMT(found.st_mode), "other")
    size = 0 if kind == "folder" else found.st_size
    return Item(at, kind, size, stat.S_IMODE(found.st_mode), found.st_mtime_ns)


_KINDS: Mapping[int, Kind] = {stat.S_IFREG: "file", stat.S_IFDIR: "folder", stat.S_IFLNK: "link"}

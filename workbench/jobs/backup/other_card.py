"""What a move of a card's files to another file system would cost, and what it would break. Reads only.

FAT: Microsoft FAT32 File System Specification 1.03; exFAT: Microsoft exFAT specification (names 7.7.3,
entries 7.6, folders 9.5). Sizes in allocation units are exact for files; for folders they follow from their
names.
"""

from __future__ import annotations

from collections.abc import Callable

from workbench.card.names import count_units, find_fault, fold_name
from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule
from workbench.card.tree import Item, Tree
from workbench.errors import CardError, UsageError
from workbench.shown import shown
from workbench.typed import Literal
from workbench.values import dataclass

FileSystem = Literal["fat16", "fat32", "exfat", "ext4"]

FAT_FILE = 0xFFFFFFFF
"""Bytes of the largest file on FAT."""
_FAT_FOLDER = 65_536
_FAT16_ROOT = 512
_EXFAT_FOLDER = 8_388_608
_ENTRY = 32


@dataclass(frozen=True, slots=True)
class Target:
    """The other card."""

    filesystem: FileSystem
    cluster: int
    """Allocation unit in bytes."""
    size: int | None = None
    """Of each volume; None where nobody said."""

    @property
    def names(self) -> NamesRule:
        return "exact" if self.filesystem == "ext4" else "fat"


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that would not survive the move as it is."""

    at: VolumePath
    kind: Literal["name", "clash", "link", "special", "large", "folder", "mode", "size"]
    because: str
    """The end of a sentence that starts with its place."""


@dataclass(frozen=True, slots=True)
class MovedVolume:
    """One volume, as it would be."""

    role: str
    files: int
    folders: int
    bytes: int
    """Of all files."""
    taken_now: int
    """In the allocation units that the volume has."""
    taken_then: int


@dataclass(frozen=True, slots=True)
class Move:
    """The whole move."""

    target: Target
    volumes: tuple[MovedVolume, ...]
    troubles: tuple[Trouble, ...]


def read_target(text: str, read_size: Callable[[str], int]) -> Target:
    """`exfat:128K`, `fat32:32K:64G`: the file system, its allocation unit, and its size where that matters.

    Raises:
        UsageError: it is of no such form.
    """
    parts = text.lower().split(":")
    usual = {"fat16": 32 * 1024, "fat32": 32 * 1024, "exfat": 128 * 1024, "ext4": 4096}
    names: dict[str, FileSystem] = {
        "fat16": "fat16",
        "fat32": "fat32",
        "fat": "fat32",
        "vfat": "fat32",
        "exfat": "exfat",
        "ext4": "ext4",
    }
    if parts[0] not in names or len(parts) > 3:
        raise UsageError(
            f"--as-if takes FILESYSTEM[:UNIT[:SIZE]] such as exfat:128K or fat32:32K:64G, not {text!r}"
        )
    filesystem = names[parts[0]]
    cluster = read_size(parts[1]) if len(parts) > 1 else usual[filesystem]
    size = read_size(parts[2]) if len(parts) > 2 else None
    if cluster < 512 or cluster & (cluster - 1) or cluster > 32 * 1024 * 1024:
        raise UsageError(f"an allocation unit is a power of two from 512 bytes to 32M, not {parts[1]}")
    return Target(filesystem, cluster, size)


def plan_move(tree: Tree, target: Target) -> Move:
    """What the card's files would take there, and what would not survive."""
    volumes, troubles = [], []
    for role in tree.roles():
        moving = _Moving(tree, role, target)
        volumes.append(moving.measure())
        troubles += moving.troubles
    return Move(target, tuple(volumes), tuple(troubles))


class _Moving:
    def __init__(self, tree: Tree, role: str, target: Target) -> None:
        self._tree = tree
        self._role = role
        self._target = target
        self.troubles: list[Trouble] = []
        self._files = self._folders = self._bytes = self._now = self._then = 0
        card = getattr(tree, "card", None)
        self._cluster = card.volume(role).cluster_bytes if card is not None else 4096

    def measure(self) -> MovedVolume:
        self._go_through(VolumePath(self._role, ""))
        size = self._target.size
        if size is not None and self._then > size:
            because = f"would take {self._then:,} bytes, and there are {size:,}"
            self.troubles.append(Trouble(VolumePath(self._role, ""), "size", because))
        return MovedVolume(self._role, self._files, self._folders, self._bytes, self._now, self._then)

    def _go_through(self, folder: VolumePath) -> None:
        waiting = [folder]
        while waiting:
            here = waiting.pop()
            try:
                items = self._tree.list(here)
            except CardError as error:
                self.troubles.append(Trouble(here, "special", f"cannot be read: {error.message}"))
                continue
            self._take_folder(here, items)
            for item in items:
                if item.kind == "folder":
                    self._folders += 1
                    waiting.append(item.at)
                else:
                    self._take(item)

    def _take(self, item: Item) -> None:
        if item.kind == "link":
            if self._target.names == "fat":
                self._note(item.at, "link", "is a link, which FAT and exFAT cannot hold")
            return
        if item.kind != "file":
            self._note(item.at, "special", "is no file and would be left out")
            return
        self._files += 1
        self._bytes += item.size
        self._now += _whole(item.size, self._cluster)
        self._then += _whole(item.size, self._target.cluster)
        if item.size > FAT_FILE and self._target.filesystem in ("fat16", "fat32"):
            because = f"is larger ({item.size:,} bytes) than a file on FAT can be (4 GiB less one byte)"
            self._note(item.at, "large", because)

    def _take_folder(self, folder: VolumePath, items: tuple[Item, ...]) -> None:
        self._check_names(items)
        entries = sum(_count_entries(item.name, self._target.filesystem) for item in items)
        is_root = not folder.path
        limit, what = self._folder_limit(is_root)
        if limit is not None and entries > limit:
            self._note(folder, "folder", f"would need {entries:,} directory entries; {what} holds {limit:,}")
        if self._target.names == "fat" and not (is_root and self._target.filesystem == "fat16"):
            own = 0 if is_root or self._target.filesystem == "exfat" else 2
            self._then += max(_whole((entries + own) * _ENTRY, self._target.cluster), self._target.cluster)
            self._now += self._cluster
        elif self._target.names == "exact":
            self._then += self._target.cluster
            self._now += self._cluster

    def _folder_limit(self, is_root: bool) -> tuple[int | None, str]:
        if self._target.filesystem == "fat16" and is_root:
            return _FAT16_ROOT - 1, "the root of a FAT16 volume"
        if self._target.filesystem in ("fat16", "fat32"):
            return _FAT_FOLDER - (0 if is_root else 2), "a folder on FAT"
        return (_EXFAT_FOLDER, "a folder on exFAT") if self._target.filesystem == "exfat" else (None, "")

    def _check_names(self, items: tuple[Item, ...]) -> None:
        rule = self._target.names
        seen: dict[str, str] = {}
        for item in sorted(items, key=lambda one: one.name):
            fault = find_fault(item.name, rule)
            if fault is not None:
                self._note(item.at, "name", fault)
            if rule == "exact":
                if len(item.name.encode("utf-8", "surrogateescape")) > 255:
                    self._note(item.at, "name", "is longer than 255 bytes")
                continue
            first = seen.setdefault(fold_name(item.name, rule), item.name)
            if first != item.name:
                self._note(item.at, "clash", f"would be the same as {shown(first)!r} beside it")

    def _note(self, at: VolumePath, kind: str, because: str) -> None:
        self.troubles.append(Trouble(at, kind, because))  # type: ignore[arg-type]


def _whole(size: int, cluster: int) -> int:
    return -(-size // cluster) * cluster


def _count_entries(name: str, filesystem: FileSystem) -> int:
    """Directory entries of 32 bytes that a name takes: FAT ceil(n/13)+1 (1 for a plain 8.3 name), exFAT
    2+ceil(n/15)."""
    units = count_units(name)
    if filesystem == "exfat":
        return 2 + -(-units // 15)
    stem, dot, suffix = name.partition(".")
    is_short = name.isascii() and name == name.upper() and 0 < len(stem) <= 8 and len(suffix) <= 3
    if is_short and "." not in suffix and not set(name) & set(" +,;=[]") and (bool(suffix) or not dot):
        return 1
    return -(-units // 13) + 1

"""Makes a pack of what is on a card: entries with their pictures, animations, splashes, icons.

The same content gives the same bytes, on every computer: sorted, stored unpacked, one date, two modes.
Saved games and other companions never go along unless asked for, and neither do files that look secret.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Iterator
from pathlib import Path

from workbench.card.entry_files import COMPANION
from workbench.card.menu import Entry, Menu, read_menus
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.references import find_references
from workbench.card.tree import Item, Tree
from workbench.changes.plan import digest
from workbench.errors import CardwrightError, EntryError
from workbench.jobs.litter import find_litter
from workbench.jobs.packs.pack_list import PACK_LIST, PackedEntry, PackList, write_pack_list
from workbench.jobs.secret_files import SECRET_HEAD, find_secret
from workbench.shown import shown
from workbench.values import dataclass, field


@dataclass(frozen=True, slots=True)
class PackWish:
    """What goes into a pack."""

    entries: tuple[tuple[Menu, Entry], ...] = ()
    """Whole entries, with their pictures."""
    icons: tuple[tuple[Menu, Entry], ...] = ()
    """Entries of which the pictures alone go in."""
    animations: tuple[str, ...] = ()
    moments: tuple[str, ...] = ()
    """Of splashes."""
    with_companions: bool = False
    with_secrets: bool = False


@dataclass(frozen=True, slots=True)
class PackDraft:
    """What a pack would hold."""

    files: tuple[Item, ...]
    """In the order of the pack."""
    entries: tuple[PackedEntry, ...]
    secrets: tuple[tuple[VolumePath, str], ...] = ()
    """Files that look secret, each with why; left out unless they were asked for."""
    companions: tuple[VolumePath, ...] = ()
    """Saved games and the like that stay out."""
    profile: str = ""
    notes: tuple[str, ...] = field(default_factory=tuple)

    @property
    def bytes(self) -> int:
        return sum(item.size for item in self.files)


def draft_pack(tree: Tree, profile: Profile, wish: PackWish) -> PackDraft:
    """What the pack would hold; nothing is written.

    Raises:
        EntryError: there is no such animation or splash on the card.
        CardwrightError: nothing was asked for, or nothing is left.
    """
    drafting = _Drafting(tree, profile, wish)
    for menu, entry in wish.entries:
        drafting.take_entry(menu, entry)
    for menu, entry in wish.icons:
        drafting.take_pictures(menu, entry)
    for name in wish.animations:
        drafting.take_animation(name)
    for moment in wish.moments:
        drafting.take_splash(moment)
    return drafting.draft()


class _Drafting:
    def __init__(self, tree: Tree, profile: Profile, wish: PackWish) -> None:
        self._tree = tree
        self._profile = profile
        self._wish = wish
        self._files: dict[VolumePath, Item] = {}
        self._entries: list[PackedEntry] = []
        self._companions: list[VolumePath] = []

    def take_entry(self, menu: Menu, entry: Entry) -> None:
        """An entry with its pictures; of a sub-menu, without what its own entries save."""
        self._take(entry.at)
        label = entry.label if entry.has_label else None
        self._entries.append(PackedEntry(str(entry.at), label))
        for inner in self._inner_entries(entry.at):
            self.take_pictures(*inner)
            self._entries.append(
                PackedEntry(str(inner[1].at), inner[1].label if inner[1].has_label else None)
            )
        self.take_pictures(menu, entry)

    def take_pictures(self, menu: Menu, entry: Entry) -> None:
        """An entry's icon and art."""
        found = find_references(self._tree, self._profile, menu, entry, mentions=False)
        for file in found.files:
            if file.kind != COMPANION or self._wish.with_companions:
                self._take(file.at)
            else:
                self._companions.append(file.at)

    def _inner_entries(self, at: VolumePath) -> list[tuple[Menu, Entry]]:
        """The entries of a menu that is this entry."""
        menus = read_menus(self._tree, self._profile)
        return [(menu, entry) for menu in menus for entry in menu.entries if entry.at.is_below(at)]

    def take_animation(self, name: str) -> None:
        rule = self._profile.animation
        if rule is None:
            raise EntryError(f"the profile {self._profile.name} says nothing of animations; nothing was made")
        at = VolumePath(rule.folder.volume, rule.folder.path.replace("{name}", name))
        item = self._tree.stat(at) if name and "/" not in name else None
        if item is None or item.kind != "folder":
            raise EntryError(f"there is no animation {shown(name)!r} on this card ({at}); nothing was made")
        self._take(at)
        files = (rule.settings, rule.sound, rule.script, rule.art)
        for pattern in (one.file for one in files if one is not None):
            if "{name}" in pattern.path:
                self._take(VolumePath(pattern.volume, pattern.path.replace("{name}", name)))

    def take_splash(self, moment: str) -> None:
        rules = [one for one in self._profile.splashes if moment in (one.moment, "all")]
        if not rules:
            known = ", ".join(one.moment for one in self._profile.splashes) or "none"
            raise EntryError(f"there is no splash for {shown(moment)!r}; the profile knows: {known}")
        for rule in rules:
            at = VolumePath(rule.file.volume, rule.file.path)
            if self._tree.stat(at) is None:
                raise EntryError(f"there is no splash at {at}; nothing was made")
            self._take(at)

    def draft(self) -> PackDraft:
        secrets = [(at, why) for at in self._files if (why := self._secret(at))]
        left_out = set() if self._wish.with_secrets else {at for at, _ in secrets}
        files = [item for at, item in self._files.items() if at not in left_out]
        if not files:
            raise CardwrightError("the pack would be empty; nothing was made. Name what goes into it.")
        files.sort(key=lambda item: member_name(item.at).encode("utf-8", "surrogateescape"))
        entries = tuple(sorted({one.at: one for one in self._entries}.values(), key=lambda one: one.at))
        return PackDraft(
            tuple(files),
            entries,
            tuple(secrets),
            tuple(dict.fromkeys(at for at in self._companions if at not in self._files)),
            self._profile.name,
        )

    def _secret(self, at: VolumePath) -> str:
        return find_secret(at.path, self._tree.read(at, SECRET_HEAD))

    def _take(self, at: VolumePath) -> None:
        item = self._tree.stat(at)
        if item is None:
            return
        if item.kind == "folder":
            for one in self._tree.walk(at):
                self._add(one)
            return
        self._add(item)

    def _add(self, item: Item) -> None:
        """A file; links and litter stay out."""
        if item.kind == "file" and not find_litter(
            item.at.path, True, b"", lambda path: self._is_there(item.at.volume, path)
        ):
            self._files[item.at] = item

    def _is_there(self, volume: str, path: str) -> bool:
        return self._tree.stat(VolumePath(volume, path)) is not None


def member_name(at: VolumePath) -> str:
    """A place on the card as the pack has it: `ROLE/PATH`."""
    return f"{at.volume}/{at.path}"


def write_pack(
    tree: Tree,
    draft: PackDraft,
    target: Path,
    *,
    name: str,
    version: str = "",
    author: str = "",
    licence: str = "",
) -> str:
    """Write the pack as a zip on this computer; answers its SHA-256.

    Raises:
        HostWriteError: it cannot be written there; nothing is left behind.
        CardError: a file of the card cannot be read.
    """
    from workbench.host.zip_making import STORED, Packed, making_zip, name_bytes

    hashes = {member_name(item.at): digest(tree.read(item.at)) for item in draft.files}
    own = PackList(name, version, author, licence, draft.profile, hashes, draft.entries)
    with making_zip(target) as making:
        for path, content, mode in _contents(tree, draft.files, write_pack_list(own)):
            raw, is_utf8 = name_bytes(path)
            making.add(Packed(raw, STORED, zlib.crc32(content), len(content), content, mode, None, is_utf8))
            if path in hashes and digest(content) != hashes[path]:
                raise CardwrightError(f"{shown(path)} changed while it was packed; nothing was made")
    return _hash_file(target)


def _contents(tree: Tree, files: Iterable[Item], own: bytes) -> Iterator[tuple[str, bytes, int]]:
    yield PACK_LIST, own, 0o644
    for item in files:
        yield member_name(item.at), tree.read(item.at), 0o755 if item.mode & 0o100 else 0o644


def _hash_file(path: Path) -> str:
    import hashlib

    with open(path, "rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()

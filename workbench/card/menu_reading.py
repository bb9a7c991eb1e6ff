"""Reads the manifests that a menu's rules point at, each once, for some of its entries or for all.

For a few entries a manifest is looked at as bytes first, and parsed only if it could name one of them; with
many, nearly every manifest names some, so each is parsed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.entry import Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.many_names import ManyNames
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule, Profile
from workbench.card.reference import Blocked
from workbench.card.rule_reading import NodeHit
from workbench.card.ruled_files import RuledFile, follow_link
from workbench.card.ruled_reading import RuledReading
from workbench.card.sweep import Hit
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.manifests.document import Document, Format, anything
from workbench.values import dataclass, field


@dataclass(frozen=True, slots=True)
class ReadFile:
    """A ruled file as it was read: where it is, its documents, and what names an entry in each."""

    at: VolumePath
    raw: bytes
    hits: tuple[tuple[Document, list[NodeHit]], ...]


@dataclass(frozen=True, slots=True)
class Read:
    """The ruled files, and those that could not be read."""

    files: list[ReadFile] = field(default_factory=list)
    malformed: list[tuple[Blocked, bytes]] = field(default_factory=list)
    """With the bytes; without any where even these could not be had."""
    unsearched: list[VolumePath] = field(default_factory=list)


class MenuReading:
    """The rules of one menu rule, ready to read its manifests.

    Args:
        menus: all menus that the rule makes.
        names: the entries that are looked for; None for all of them.
    """

    def __init__(
        self, tree: Tree, profile: Profile, rule: MenuRule, menus: Sequence[Menu], names: ManyNames | None
    ) -> None:
        self.tree = tree
        self.profile = profile
        self.names = names
        self.contents = Contents(tree)
        self.entries = EntrySet(rule, menus, profile)
        could_name = names.could_be_in if names is not None else anything
        self.claims = list(find_entry_files(index_names(tree), self.entries, could_name))
        """Pictures and companions; from here on the places of those that are sure lead to their entry too."""
        sure = ((claim.entries[0], claim.file) for claim in self.claims if len(claim.entries) == 1)
        self.entries.add_files(sure)
        self.rules = RuledReading(tree, profile, self.entries)
        self._could_name = could_name

    def ruled(self) -> Iterator[RuledFile]:
        """The files that the rules point at."""
        for volume in self.tree.roles():
            yield from self.rules.files.get(volume, {}).values()

    def is_ruled(self, volume: str, path: str) -> bool:
        """Whether a rule points at the file."""
        return path in self.rules.files.get(volume, {})

    def read(self, cold: Mapping[Hit, Sequence[Format]]) -> Read:
        """Read the manifests that could name what is looked for.

        Args:
            cold: files that are known to name nothing of it, read in these formats.
        """
        read = Read()
        for ruled in self.list_warm(cold):
            self.read_file(read, ruled)
        return read

    def list_warm(self, cold: Mapping[Hit, Sequence[Format]]) -> list[RuledFile]:
        """The ruled files but those that are known to name nothing (see `read`)."""
        if not cold:
            return list(self.ruled())
        known = ((ruled, cold.get((ruled.at.volume, ruled.at.path))) for ruled in self.ruled())
        return [ruled for ruled, formats in known if not (formats and ruled.rules.keys() <= set(formats))]

    def read_file(self, read: Read, ruled: RuledFile) -> None:
        """Add what one ruled file holds to what was read."""
        formats = list(ruled.rules)
        try:
            at, raw = self._read_bytes(ruled)
        except TooLarge:
            read.unsearched.append(ruled.at)
            return
        except CardError as error:
            unreadable = ManifestError(error.message, path=str(ruled.at))
            read.malformed.append((Blocked(ruled.at, formats[0], unreadable), b""))
            return
        if raw is None:
            return
        if self.names is not None:
            formats = [format for format in formats if self.names.could_name(raw, format)]
        opened = [one for format in formats if (one := self._open(read, raw, at, format)) is not None]
        if opened and len(opened) == len(formats):
            hits = tuple((one, self.rules.read(one, ruled, self._could_name)) for one in opened)
            read.files.append(ReadFile(at, raw, hits))

    def _read_bytes(self, ruled: RuledFile) -> tuple[VolumePath, bytes | None]:
        """The bytes and where they are, links within the volume followed; None where they are met there."""
        raw = self.contents.read(ruled.at.volume, ruled.at.path)
        if raw is not None:
            return ruled.at, raw
        at = follow_link(self.tree, ruled.at)
        if at != ruled.at and self.is_ruled(at.volume, at.path):
            return at, None
        return at, self.tree.read(at)

    def _open(self, read: Read, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        """The document; None where it is malformed: in the way, then, if it could name what is looked for."""
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self.profile.variables)
        except ManifestError as error:
            read.malformed.append((Blocked(at, format, error), raw))
            return None

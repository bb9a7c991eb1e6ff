"""One search of a card for everything that names any of a menu's entries: each manifest is opened once.

What it finds for an entry is what `entry_search` finds for that entry alone. There a name is looked for
before anything is parsed; here nearly every manifest names some entry, so each is parsed, and what its rules
leave over is looked through for all names at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.entry import Entry, Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.grounding import check_grounds
from workbench.card.many_names import ManyNames, count_roughly
from workbench.card.media_names import is_media
from workbench.card.mention import Mention
from workbench.card.mentions import mention_line
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.needle import Needle
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import Ambiguity, Blocked, FileReference, Reference
from workbench.card.rule_reading import NodeHit
from workbench.card.ruled_files import RuledFile, follow_link
from workbench.card.ruled_reading import RuledReading, Span
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.manifests.document import Document, Format, anything
from workbench.values import dataclass, field

_SMALL = 256 * 1024
"""Bytes of manifests that are read whole to count references: at their densest half a second."""
_FEW = 8
"""Entries that are looked for one by one before a manifest is parsed; with more, each names one of them."""


@dataclass(frozen=True, slots=True)
class ManyReferences:
    """All references to the entries in one manifest, and the entry that each names."""

    at: VolumePath
    references: tuple[Reference, ...]
    entries: tuple[Entry, ...]
    """Of each reference, in the same order."""
    document: Document = field(repr=False, compare=False)


@dataclass(frozen=True, slots=True)
class ManyFound:
    """Everything that names any of the entries."""

    manifests: tuple[ManyReferences, ...] = ()
    files: tuple[tuple[Entry, FileReference], ...] = ()
    mentions: tuple[Mention, ...] = ()
    blocked: tuple[Blocked, ...] = ()
    ambiguous: tuple[Ambiguity, ...] = ()
    unsearched: tuple[VolumePath, ...] = ()
    absent: tuple[str, ...] = ()
    """Roles of volumes that rules point at and that are not there."""


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
    unsearched: list[VolumePath] = field(default_factory=list)


class MenuReferences:
    """What names the entries of a menu's rule, read once; then asked for some of the entries.

    On a card with large manifests the references are not all read to count them: a name counts as often as
    it stands in the bytes of the files that the rules point at; and what names some entries is read for them.

    Raises:
        CardError: the card is not there; a rule leads through a link out of it.
    """

    def __init__(self, tree: Tree, profile: Profile, menu: Menu) -> None:
        check_grounds(index_names(tree), menu.rule)
        self.tree = tree
        self.profile = profile
        self.menu = menu
        self.contents = Contents(tree)
        self.entries = EntrySet(menu.rule, read_rule_menus(tree, profile, menu.rule, labels=False), profile)
        self.claims = list(find_entry_files(index_names(tree), self.entries))
        sure = [(one.entries[0], one.file) for one in self.claims if len(one.entries) == 1]
        self.entries.add_files(sure)
        self.reading = RuledReading(tree, profile, self.entries)
        self._ruled = [
            ruled for volume in tree.roles() for ruled in self.reading.files.get(volume, {}).values()
        ]
        self._all: Read | None = None
        """What was read for all entries; None where there is too much of it."""

    def count(self) -> dict[str, int]:
        """References to each entry of the menu, by its name."""
        counts = Counter(claim.entries[0].at for claim in self.claims if len(claim.entries) == 1)
        if not self._is_small():
            rough = count_roughly(
                {entry.name: entry.stem for entry in self.menu.entries}, map(self._raw_or_none, self._ruled)
            )
            return {entry.name: counts[entry.at] + rough[entry.name] for entry in self.menu.entries}
        self._all = self._all or self._read(None)
        for read in self._all.files:
            for _, hits in read.hits:
                counts.update(hit.entries[0].at for hit in hits if len(hit.entries) == 1 and hit.start >= 0)
        return {entry.name: counts[entry.at] for entry in self.menu.entries}

    def find(self, wanted: Sequence[Entry], *, mentions: bool = True) -> ManyFound:
        """Everything that names one of these entries, on every volume that is present.

        Raises:
            CardError: an entry is no longer there.
        """
        for entry in wanted:
            if self.tree.stat(entry.at) is None:
                raise CardError(f"{entry.at} is no longer there; nothing was changed", path=str(entry.at))
        return _Gathering(self, wanted, self._all or self._read(wanted)).run(mentions=mentions)

    def _is_small(self) -> bool:
        """Whether all that the rules point at can be read in a moment."""
        left = _SMALL
        for ruled in self._ruled:
            item = self.tree.stat(ruled.at)
            left -= item.size if item is not None else 0
            if left < 0:
                return False
        return True

    def _raw_or_none(self, ruled: RuledFile) -> bytes:
        try:
            return self.contents.read(ruled.at.volume, ruled.at.path) or b""
        except TooLarge:
            return b""

    def _read(self, wanted: Sequence[Entry] | None) -> Read:
        """Read the manifests that could name these entries; with None, or for many entries, all of them."""
        read = Read()
        needles = [Needle(entry.stem, self.entries.names) for entry in wanted or ()]
        if len(needles) > _FEW:
            needles = []
        for ruled in self._ruled:
            self._read_file(read, ruled, needles)
        return read

    def _read_file(self, read: Read, ruled: RuledFile, needles: Sequence[Needle]) -> None:
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
        if needles:
            formats = [f for f in formats if any(needle.could_name(raw, f) for needle in needles)]
        opened = [one for format in formats if (one := self._open(read, raw, at, format)) is not None]
        if opened and len(opened) == len(formats):
            could_name = _any_of(needles) if needles else anything
            hits = tuple((one, self.reading.read(one, ruled, could_name)) for one in opened)
            read.files.append(ReadFile(at, raw, hits))

    def _read_bytes(self, ruled: RuledFile) -> tuple[VolumePath, bytes | None]:
        """The bytes and where they are, links within the volume followed; None where they are met there."""
        raw = self.contents.read(ruled.at.volume, ruled.at.path)
        if raw is not None:
            return ruled.at, raw
        at = follow_link(self.tree, ruled.at)
        if at != ruled.at and at.path in self.reading.files.get(at.volume, {}):
            return at, None
        return at, self.tree.read(at)

    def _open(self, read: Read, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self.profile.variables)
        except ManifestError as error:
            read.malformed.append((Blocked(at, format, error), raw))
            return None


def _any_of(needles: Sequence[Needle]) -> Callable[[str], bool]:
    """Whether a text could name one of several entries."""
    if len(needles) == 1:
        return needles[0].could_be_in
    return lambda text: any(needle.could_be_in(text) for needle in needles)


class _Gathering:
    """What concerns some of the entries, out of what was read."""

    def __init__(self, menu: MenuReferences, wanted: Sequence[Entry], read: Read) -> None:
        self._menu = menu
        self._read = read
        self._tree, self._profile, self._rule = menu.tree, menu.profile, menu.menu.rule
        self._reading = menu.reading
        self._wanted: Mapping[VolumePath, Entry] = {entry.at: entry for entry in wanted}
        every = [entry for found in menu.entries.menus for entry in found.entries]
        self._names = ManyNames(wanted, every, menu.entries.names)
        self._manifests: list[ManyReferences] = []
        self._files: list[tuple[Entry, FileReference]] = []
        self._known = {entry.at for entry in every}
        """Places that are entries, or go with one: their names are no mentions."""
        self._mentions: list[Mention] = []
        self._blocked: list[Blocked] = []
        self._ambiguous: list[Ambiguity] = []
        self._unsearched = list(read.unsearched)

    def run(self, *, mentions: bool) -> ManyFound:
        self._take_files()
        for blocked, raw in self._read.malformed:
            if not raw or self._names.could_stand_alone(raw, blocked.format):
                self._blocked.append(blocked)
        for file in self._read.files:
            covered = [span for document, hits in file.hits for span in self._take(document, hits, file.at)]
            if mentions:
                self._mention(file.raw, file.at, [document for document, _ in file.hits], covered)
        for volume in self._tree.roles() if mentions else ():
            self._search_unruled(volume)
        return ManyFound(
            tuple(self._manifests),
            tuple(sorted(self._files, key=lambda one: (-one[1].at.path.count("/"), one[1].at))),
            tuple(sorted(dict.fromkeys(self._mentions), key=_by_place)),
            tuple(self._blocked),
            tuple(self._ambiguous),
            tuple(self._unsearched),
            tuple(sorted(self._rule.roles_led_to - set(self._tree.roles()))),
        )

    def _take_files(self) -> None:
        for claim in self._menu.claims:
            mine = [entry for entry in claim.entries if entry.at in self._wanted]
            self._known.add(claim.file.at)
            if mine and len(claim.entries) == 1:
                self._files.append((self._wanted[mine[0].at], claim.file))
            elif mine:
                self._add_ambiguity(claim.file.at, None, claim.file.at.name, claim.entries)

    def _take(self, document: Document, hits: Sequence[NodeHit], at: VolumePath) -> list[Span]:
        """Take in what names an entry; returns the spans that the rules answer for."""
        covered = [(hit.node.start, hit.node.end) for hit in hits]
        mine = [hit for hit in hits if any(entry.at in self._wanted for entry in hit.entries)]
        for hit in mine:
            if len(hit.entries) > 1:
                self._add_ambiguity(at, hit.node.line, hit.node.text, hit.entries)
        sure = [hit for hit in mine if len(hit.entries) == 1]
        if not sure or not self._is_editable(document, at):
            return covered
        pairs = self._sort_out(document, sure, at)
        if pairs:
            covered += [(one.node.start, one.node.end) for one, _ in pairs]
            references, entries = zip(*pairs, strict=True)
            self._manifests.append(ManyReferences(at, references, entries, document))
        return covered

    def _is_editable(self, document: Document, at: VolumePath) -> bool:
        """Whether the document takes edits; one that does not (a key twice, say) stands in the way."""
        check = getattr(document, "check_editable", None)
        try:
            if check is not None and document.format != "shell":
                check()
        except ManifestError as error:
            self._blocked.append(Blocked(at, document.format, error))
            return False
        return True

    def _sort_out(
        self, document: Document, sure: Sequence[NodeHit], at: VolumePath
    ) -> list[tuple[Reference, Entry]]:
        """The references that an edit can reach; words of a script that it cannot are mentions."""
        if document.format != "shell":
            return [(hit.reference(at), self._own(hit)) for hit in sure if hit.start >= 0]
        from workbench.card.script_probe import split_editable

        by_entry: dict[VolumePath, list[NodeHit]] = {}
        for hit in sure:
            by_entry.setdefault(hit.entries[0].at, []).append(hit)
        pairs: list[tuple[Reference, Entry]] = []
        for place, hits in by_entry.items():
            entry = self._wanted[place]
            references, left = split_editable(document, hits, entry, self._rule, at, self._profile.variables)
            pairs += [(one, entry) for one in references]
            self._mentions += dict.fromkeys(mention_line(document.raw, at, node.start) for node in left)
        return sorted(pairs, key=lambda pair: (pair[0].node.start, pair[0].start))

    def _own(self, hit: NodeHit) -> Entry:
        return self._wanted[hit.entries[0].at]

    def _mention(
        self, raw: bytes, at: VolumePath, documents: Sequence[Document], covered: list[Span]
    ) -> None:
        """What the rules do not answer for; shown names and other menus are asked only if needed."""
        found = self._names.find_mentions(raw, at, documents, covered)
        if found and (answering := self._reading.find_answering(at)):
            opened = {document.format: document for document in documents}
            for format in answering:
                document = opened.get(format) or self._open_quietly(raw, at, format)
                if document is not None:
                    covered += self._reading.find_answered(document, at, self._names.could_hold)
            found = self._names.find_mentions(raw, at, documents, covered)
        self._mentions += found

    def _open_quietly(self, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self._profile.variables)
        except ManifestError:
            return None

    def _search_unruled(self, volume: str) -> None:
        """Files that no rule covers and that may hold text; and the names of all files."""
        ruled = self._reading.files.get(volume, {})
        for folder, listing in index_names(self._tree).folders(volume).items():
            prefix = f"{folder}/" if folder else ""
            unruled: list[str] = []
            for name, is_folder in listing:
                if self._names.could_hold(name):
                    self._mention_name(VolumePath(volume, prefix + name))
                if not is_folder and not is_media(name) and not (ruled and prefix + name in ruled):
                    unruled.append(name)
            for name, raw in self._menu.contents.read_folder(volume, folder, unruled):
                at = VolumePath(volume, prefix + name)
                if not isinstance(raw, TooLarge):
                    self._mention(raw, at, (), [])
                elif raw.is_text:
                    self._unsearched.append(at)

    def _mention_name(self, at: VolumePath) -> None:
        """A name that no rule covers. What lies in an entry moves with it and keeps its name."""
        if at in self._known:
            return
        for entry, mention in self._names.find_in_name(at):
            beside = at.is_below(entry.at) or at.parent == entry.at.parent
            if not beside and not self._reading.belongs_elsewhere(at):
                self._mentions.append(mention)

    def _add_ambiguity(self, at: VolumePath, line: int | None, text: str, entries: Sequence[Entry]) -> None:
        self._ambiguous.append(Ambiguity(at, line, text, tuple(entry.at for entry in entries)))


def _by_place(mention: Mention) -> tuple[VolumePath, int, int]:
    return mention.at, mention.line or 0, mention.offset or 0

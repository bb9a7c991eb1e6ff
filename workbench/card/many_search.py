"""One search of a card for everything that names any of a menu's entries: each manifest is opened once.

What it finds for an entry is what `entry_search` finds for that entry alone. There a name is looked for
before anything is parsed; here nearly every manifest names some entry, so each is parsed, and what its rules
leave over is looked through for all names at once.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.entry import Entry, Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.grounding import check_grounds
from workbench.card.many_names import ManyNames
from workbench.card.media_names import is_media
from workbench.card.mention import Mention
from workbench.card.mentions import mention_line
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
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
class _Read:
    """A ruled file as it was read: where it is, its documents, and what names an entry in each."""

    at: VolumePath
    raw: bytes
    hits: tuple[tuple[Document, list[NodeHit]], ...]


class MenuReferences:
    """What names the entries of a menu's rule, read once; then asked for some of the entries.

    Raises:
        CardError: the card is not there; a rule leads through a link out of it.
    """

    def __init__(self, tree: Tree, profile: Profile, menu: Menu) -> None:
        check_grounds(index_names(tree), menu.rule)
        self._tree = tree
        self._profile = profile
        self._menu = menu
        self._contents = Contents(tree)
        self._entries = EntrySet(menu.rule, read_rule_menus(tree, profile, menu.rule, labels=False), profile)
        self._claims = list(find_entry_files(index_names(tree), self._entries))
        sure = [(one.entries[0], one.file) for one in self._claims if len(one.entries) == 1]
        self._entries.add_files(sure)
        self._reading = RuledReading(tree, profile, self._entries)
        self._reads: list[_Read] = []
        self._malformed: list[tuple[Blocked, bytes]] = []
        self._unsearched: list[VolumePath] = []
        for volume in tree.roles():
            for ruled in self._reading.files.get(volume, {}).values():
                self._read(ruled)

    def count(self) -> dict[str, int]:
        """References to each entry of the menu, by its name."""
        counts = Counter(claim.entries[0].at for claim in self._claims if len(claim.entries) == 1)
        for read in self._reads:
            for _, hits in read.hits:
                counts.update(hit.entries[0].at for hit in hits if len(hit.entries) == 1 and hit.start >= 0)
        return {entry.name: counts[entry.at] for entry in self._menu.entries}

    def find(self, wanted: Sequence[Entry], *, mentions: bool = True) -> ManyFound:
        """Everything that names one of these entries, on every volume that is present.

        Raises:
            CardError: an entry is no longer there.
        """
        for entry in wanted:
            if self._tree.stat(entry.at) is None:
                raise CardError(f"{entry.at} is no longer there; nothing was changed", path=str(entry.at))
        return _Gathering(self, wanted).run(mentions=mentions)

    def _read(self, ruled: RuledFile) -> None:
        formats = list(ruled.rules)
        try:
            at, raw = self._read_bytes(ruled)
        except TooLarge:
            self._unsearched.append(ruled.at)
            return
        except CardError as error:
            unreadable = ManifestError(error.message, path=str(ruled.at))
            self._malformed.append((Blocked(ruled.at, formats[0], unreadable), b""))
            return
        if raw is None:
            return
        opened = [document for format in formats if (document := self._open(raw, at, format)) is not None]
        if len(opened) == len(formats):
            hits = tuple((one, self._reading.read(one, ruled, anything)) for one in opened)
            self._reads.append(_Read(at, raw, hits))

    def _read_bytes(self, ruled: RuledFile) -> tuple[VolumePath, bytes | None]:
        """The bytes and where they are, links within the volume followed; None where they are met there."""
        raw = self._contents.read(ruled.at.volume, ruled.at.path)
        if raw is not None:
            return ruled.at, raw
        at = follow_link(self._tree, ruled.at)
        if at != ruled.at and at.path in self._reading.files.get(at.volume, {}):
            return at, None
        return at, self._tree.read(at)

    def _open(self, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self._profile.variables)
        except ManifestError as error:
            self._malformed.append((Blocked(at, format, error), raw))
            return None


class _Gathering:
    """What concerns some of the entries, out of what was read."""

    def __init__(self, read: MenuReferences, wanted: Sequence[Entry]) -> None:
        self._all = read
        self._tree, self._profile, self._rule = read._tree, read._profile, read._menu.rule
        self._reading = read._reading
        self._wanted: Mapping[VolumePath, Entry] = {entry.at: entry for entry in wanted}
        every = [entry for menu in read._entries.menus for entry in menu.entries]
        self._names = ManyNames(wanted, every, read._entries.names)
        self._manifests: list[ManyReferences] = []
        self._files: list[tuple[Entry, FileReference]] = []
        self._known = {entry.at for entry in every}
        """Places that are entries, or go with one: their names are no mentions."""
        self._mentions: list[Mention] = []
        self._blocked: list[Blocked] = []
        self._ambiguous: list[Ambiguity] = []
        self._unsearched = list(read._unsearched)

    def run(self, *, mentions: bool) -> ManyFound:
        self._take_files()
        for blocked, raw in self._all._malformed:
            if not raw or self._names.could_stand_alone(raw, blocked.format):
                self._blocked.append(blocked)
        for read in self._all._reads:
            covered = [span for document, hits in read.hits for span in self._take(document, hits, read.at)]
            if mentions:
                self._mention(read.raw, read.at, [document for document, _ in read.hits], covered)
        for volume in self._tree.roles() if mentions else ():
            self._search_unruled(volume)
        return ManyFound(
            tuple(self._manifests),
            tuple(sorted(self._files, key=lambda one: (-one[1].at.path.count("/"), one[1].at))),
            tuple(sorted(dict.fromkeys(self._mentions), key=_by_place)),
            tuple(self._blocked),
            tuple(self._ambiguous),
            tuple(self._unsearched),
            self._find_absent(),
        )

    def _find_absent(self) -> tuple[str, ...]:
        rule = self._rule
        files = (
            *(one.file for one in rule.references),
            *(one.path for one in rule.pictures),
            *rule.companions,
        )
        return tuple(sorted({file.volume for file in files} - set(self._tree.roles())))

    def _take_files(self) -> None:
        for claim in self._all._claims:
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
            for name, raw in self._all._contents.read_folder(volume, folder, unruled):
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

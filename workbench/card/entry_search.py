"""One search of a card for everything that names one entry.

Each file is looked at as bytes first; it is parsed only if a rule covers it and it could name the entry.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from workbench.card.contents import Contents, TooLarge
from workbench.card.entry import Entry, Menu
from workbench.card.entry_files import find_entry_files
from workbench.card.entry_set import EntrySet
from workbench.card.mention import Mention
from workbench.card.mentions import find_mentions, find_name_mention, mention_line
from workbench.card.menu import read_rule_menus
from workbench.card.name_index import index_names
from workbench.card.needle import Needle
from workbench.card.paths import VolumePath
from workbench.card.profile import Profile
from workbench.card.reference import Ambiguity, Blocked, FileReference, Found, ManifestReferences, Reference
from workbench.card.rule_reading import NodeHit
from workbench.card.ruled_files import RuledFile, follow_link
from workbench.card.ruled_reading import RuledReading, Span
from workbench.card.sweep import Folder, Hit, list_texts, make_needles, sweep
from workbench.card.tree import Tree
from workbench.errors import CardError, ManifestError
from workbench.manifests.document import Document, Format
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    from workbench.card.scout import Scout


class EntrySearch:
    """Gathers what names one entry."""

    def __init__(self, tree: Tree, profile: Profile, menu: Menu, entry: Entry) -> None:
        self._tree = tree
        self._profile = profile
        self._rule = menu.rule
        self._entry = entry
        self._contents = Contents(tree)
        menus = read_rule_menus(tree, profile, menu.rule, labels=False)
        self._entries = EntrySet(menu.rule, menus, profile)
        self._needle = Needle(entry.stem, self._entries.names)
        others = {other for found in menus for other in found.entries if other.stem != entry.stem}
        names = {name for other in others for name in (other.name, other.stem)}
        longer = (name for name in sorted(names) if entry.stem in name and name != entry.name)
        self._longer = tuple(name.encode("utf-8", "surrogateescape") for name in longer)
        self._manifests: list[ManifestReferences] = []
        self._files: list[FileReference] = []
        self._elsewhere: set[VolumePath] = set()
        """Files that go with another entry of the same rule, a namesake in another folder."""
        self._mentions: list[Mention] = []
        self._blocked: list[Blocked] = []
        self._ambiguous: list[Ambiguity] = []
        self._unsearched: list[VolumePath] = []

    def run(self, *, mentions: bool) -> Found:
        """Search the whole card; without `mentions`, only where rules point."""
        self._find_files()
        self._reading = RuledReading(self._tree, self._profile, self._entries)
        scout: Scout | None = getattr(self._tree, "scout", None)
        told = scout.ruled(self._needle.text, self._entries.names) if scout is not None else None
        self._search_ruled_files({} if told is None else told[1], mentions=mentions)
        if mentions:
            self._mention_names()
            hits = scout.hits() if scout is not None and told is not None else None
            for volume, path in self._find_unruled(hits, told[0] if told is not None else ()):
                self._search_unruled(volume, path)
        if self._tree.stat(self._entry.at) is None:
            raise CardError(
                f"{self._entry.at} is no longer there; nothing was changed", path=str(self._entry.at)
            )
        return Found(
            tuple(self._manifests),
            tuple(sorted(self._files, key=lambda file: (-file.at.path.count("/"), file.at))),
            tuple(sorted(self._mentions, key=_by_place)),
            tuple(self._blocked),
            tuple(self._ambiguous),
            tuple(self._unsearched),
            tuple(sorted(self._rule.roles_led_to - set(self._tree.roles()))),
        )

    def _find_files(self) -> None:
        """Pictures and companions; from here on their places lead to the entry too."""
        for claim in find_entry_files(index_names(self._tree), self._entries, self._needle.could_be_in):
            if not self._is_mine(claim.entries):
                self._elsewhere.add(claim.file.at)
                continue
            if len(claim.entries) == 1:
                self._files.append(claim.file)
            else:
                self._add_ambiguity(claim.file.at, None, claim.file.at.name, claim.entries)
        self._entries.add_files((self._entry, file) for file in self._files)

    def _mention_names(self) -> None:
        """The names of files and folders that hold the entry's."""
        known = {self._entry.at, *(file.at for file in self._files), *self._elsewhere}
        known.update(entry.at for menu in self._entries.menus for entry in menu.entries)
        text = self._needle.text
        for volume in self._tree.roles():
            for folder, listing in index_names(self._tree).folders(volume).items():
                if text in "\n".join([name for name, _ in listing]):  # most folders are done with here
                    at = VolumePath(volume, folder)
                    for name in [name for name, _ in listing if text in name]:
                        self._mention_name(at.child(name), known)

    def _find_unruled(self, hits: list[Hit] | None, left: Iterable[Hit]) -> Iterable[Hit]:
        """The files that no rule covers and that could mention the entry.

        `hits`: those that a scout found, among all files but those in `left`.
        """
        needles = make_needles(self._needle.text)
        if hits is None:
            return sweep(self._contents, self._list_unruled(), needles)
        unruled = ((volume, "", (path,)) for volume, path in left if not self._is_ruled(volume, path))
        found = (hit for hit in hits if not self._is_ruled(*hit))
        return chain(found, sweep(self._contents, unruled, needles))

    def _is_ruled(self, volume: str, path: str) -> bool:
        return path in self._reading.files.get(volume, {})

    def _list_unruled(self) -> Iterator[Folder]:
        for volume in self._tree.roles():
            ruled = self._reading.files.get(volume, {})
            for folder, listing in index_names(self._tree).folders(volume).items():
                prefix = f"{folder}/" if folder else ""
                yield volume, folder, [name for name in list_texts(listing) if prefix + name not in ruled]

    def _search_ruled_files(self, cold: Mapping[Hit, tuple[Format, ...]], *, mentions: bool) -> None:
        """All ruled files but those that are known to name nothing in the formats of their rules."""
        for volume in self._tree.roles():
            for path, ruled in self._reading.files.get(volume, {}).items():
                if not ruled.rules.keys() <= set(cold.get((volume, path), ())):
                    self._search_ruled(ruled, mentions=mentions)

    def _search_unruled(self, volume: str, path: str) -> None:
        at = VolumePath(volume, path)
        try:
            raw = self._contents.read(volume, path)
        except TooLarge as large:
            if large.is_text:
                self._unsearched.append(at)
            return
        if raw is not None:
            self._mention(raw, at, (), [])

    def _mention_name(self, at: VolumePath, known: set[VolumePath]) -> None:
        """A name that no rule covers. What lies in the entry moves with it and keeps its name."""
        if at in known or at.is_below(self._entry.at) or at.parent == self._entry.at.parent:
            return
        found = find_name_mention(at, self._needle, self._longer)
        if found is not None and not self._reading.belongs_elsewhere(at):
            self._mentions.append(found)

    def _search_ruled(self, ruled: RuledFile, *, mentions: bool) -> None:
        formats = list(ruled.rules)
        try:
            at, raw = self._read_ruled(ruled)
        except TooLarge:
            self._unsearched.append(ruled.at)
            return
        except CardError as error:
            unreadable = ManifestError(error.message, path=str(ruled.at))
            self._blocked.append(Blocked(ruled.at, formats[0], unreadable))
            return
        if raw is None:
            return
        documents = [
            self._open(raw, at, format) for format in formats if self._needle.could_name(raw, format)
        ]
        opened = [document for document in documents if document is not None]
        if len(opened) < len(documents):
            return
        covered: list[Span] = []
        for document in opened:
            covered += self._take_references(document, ruled, at)
        if mentions and opened:  # where none was, the name is not there
            self._mention(raw, at, opened, covered)

    def _read_ruled(self, ruled: RuledFile) -> tuple[VolumePath, bytes | None]:
        """The bytes and where they are, links within the volume followed; None where they are met there."""
        raw = self._contents.read(ruled.at.volume, ruled.at.path)
        if raw is not None:
            return ruled.at, raw
        at = follow_link(self._tree, ruled.at)
        if at != ruled.at and at.path in self._reading.files.get(at.volume, {}):
            return at, None
        return at, self._tree.read(at)

    def _open(self, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        """The document; None where it is malformed: in the way, then, if it could name the entry."""
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self._profile.variables)
        except ManifestError as error:
            if self._needle.could_stand_alone(raw, format):
                self._blocked.append(Blocked(at, format, error))
            return None

    def _open_quietly(self, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self._profile.variables)
        except ManifestError:
            return None

    def _take_references(self, document: Document, ruled: RuledFile, at: VolumePath) -> list[Span]:
        """Take in what names the entry; returns the spans that the rules answer for."""
        hits = self._reading.read(document, ruled, self._needle)
        mine = [hit for hit in hits if self._is_mine(hit.entries)]
        for hit in mine:
            if len(hit.entries) > 1:
                self._add_ambiguity(at, hit.node.line, hit.node.text, hit.entries)
        sure = [hit for hit in mine if len(hit.entries) == 1]
        covered = [(hit.node.start, hit.node.end) for hit in hits]
        if sure and self._is_editable(document, at):
            references = self._sort_out(document, sure, at)
            if references:
                covered += [(one.node.start, one.node.end) for one in references]
                self._manifests.append(
                    ManifestReferences(at, document.format, references, document, self._rule)
                )
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

    def _sort_out(self, document: Document, sure: Sequence[NodeHit], at: VolumePath) -> tuple[Reference, ...]:
        """The references that an edit can reach; words of a script that it cannot are mentions."""
        if document.format != "shell":
            return tuple(hit.reference(at) for hit in sure if hit.start >= 0)
        from workbench.card.script_probe import split_editable

        references, left = split_editable(
            document, sure, self._entry, self._rule, at, self._profile.variables
        )
        self._mentions += dict.fromkeys(mention_line(document.raw, at, node.start) for node in left)
        return references

    def _mention(
        self, raw: bytes, at: VolumePath, documents: Sequence[Document], covered: list[Span]
    ) -> None:
        """What the rules do not answer for; shown names and other menus are asked only if needed."""
        format = documents[0].format if documents else None
        found = tuple(find_mentions(raw, at, self._needle, self._longer, format=format, covered=covered))
        answering = self._reading.find_answering(at) if found else ()
        if answering:
            opened = {document.format: document for document in documents}
            for other in answering:
                document = opened.get(other) or self._open_quietly(raw, at, other)
                if document is not None:
                    covered += self._reading.find_answered(document, at, self._needle)
            found = tuple(find_mentions(raw, at, self._needle, self._longer, format=format, covered=covered))
        self._mentions += found

    def _is_mine(self, entries: Sequence[Entry]) -> bool:
        return any(entry.at == self._entry.at for entry in entries)

    def _add_ambiguity(self, at: VolumePath, line: int | None, text: str, entries: Sequence[Entry]) -> None:
        self._ambiguous.append(Ambiguity(at, line, text, tuple(entry.at for entry in entries)))


def _by_place(mention: Mention) -> tuple[VolumePath, int, int]:
    return mention.at, mention.line or 0, mention.offset or 0

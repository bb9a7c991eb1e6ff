"""Sorts out what concerns some of a menu's entries: references, mentions, and what stands in the way."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import chain

from workbench.card.contents import TooLarge
from workbench.card.entry import Entry
from workbench.card.many_names import ManyNames
from workbench.card.mention import Mention
from workbench.card.mentions import mention_line
from workbench.card.menu_reading import MenuReading, Read
from workbench.card.name_index import index_names
from workbench.card.paths import VolumePath
from workbench.card.reference import Ambiguity, Blocked, FileReference, Found, ManifestReferences, Reference
from workbench.card.rule_reading import NodeHit
from workbench.card.ruled_reading import Span
from workbench.card.sweep import Folder, Hit, list_texts
from workbench.errors import ManifestError
from workbench.manifests.document import Document, Format


class Gathering:
    """What concerns the entries that are wanted, out of what was read."""

    def __init__(self, reading: MenuReading, read: Read, names: ManyNames, wanted: Sequence[Entry]) -> None:
        self._reading = reading
        self._read = read
        self._names = names
        self._tree, self._rule = reading.tree, reading.entries.rule
        # All entries of a rule lie on one volume, so that a path tells them apart.
        self._wanted: Mapping[str, Entry] = {entry.at.path: entry for entry in wanted}
        self._known: dict[tuple[str, str], set[str]] = {}
        """Names, by volume and folder, that are entries or go with one: these are no mentions."""
        self._manifests: list[ManifestReferences] = []
        self._files: list[tuple[FileReference, Entry]] = []
        self._mentions: list[Mention] = []
        self._blocked: list[Blocked] = []
        self._ambiguous: list[Ambiguity] = []
        self._unsearched = list(read.unsearched)

    def run(self, *, mentions: bool, hits: tuple[list[Hit], list[Hit]] | None) -> Found:
        """All of it.

        Args:
            hits: files without a rule that nobody looked through yet, and those known to hold the name; None
                where nobody looked through any.
        """
        self._take_files()
        for blocked, raw in self._read.malformed:
            if not raw or self._names.could_stand_alone(raw, blocked.format):
                self._blocked.append(blocked)
        self._take_ruled(mentions)
        if mentions:
            self._mention_names()
            for volume, path in self._find_unruled(hits):
                self._search_unruled(volume, path)
        files = sorted(self._files, key=lambda one: (-one[0].at.path.count("/"), one[0].at))
        return Found(
            tuple(self._manifests),
            tuple(file for file, _ in files),
            tuple(sorted(dict.fromkeys(self._mentions), key=_by_place)),
            tuple(self._blocked),
            tuple(self._ambiguous),
            tuple(self._unsearched),
            tuple(sorted(self._rule.roles_led_to - set(self._tree.roles()))),
            tuple(entry for _, entry in files),
        )

    def take_ruled(self, *, mentions: bool) -> tuple[list[ManifestReferences], list[Mention]] | None:
        """Only what ruled files say for themselves; None where something in them needs more than that."""
        self._take_ruled(mentions)
        return None if self._blocked or self._ambiguous else (self._manifests, self._mentions)

    def add_mentions(self, mentions: Iterable[Mention]) -> None:
        """Take in what was found elsewhere."""
        self._mentions += mentions

    def _take_ruled(self, mentions: bool) -> None:
        for file in self._read.files:
            covered = [span for document, found in file.hits for span in self._take(document, found, file.at)]
            if mentions:
                self._mention(file.raw, file.at, [document for document, _ in file.hits], covered)

    def _take_files(self) -> None:
        """Pictures and companions of the entries."""
        for menu in self._reading.entries.menus:
            for entry in menu.entries:
                self._know(entry.at)
        for claim in self._reading.claims:
            self._know(claim.file.at)
            mine = [entry for entry in claim.entries if entry.at.path in self._wanted]
            if mine and len(claim.entries) == 1:
                self._files.append((claim.file, self._wanted[mine[0].at.path]))
            elif mine:
                self._add_ambiguity(claim.file.at, None, claim.file.at.name, claim.entries)

    def _know(self, at: VolumePath) -> None:
        folder, _, name = at.path.rpartition("/")
        self._known.setdefault((at.volume, folder), set()).add(name)

    # What the rules cover

    def _take(self, document: Document, hits: Sequence[NodeHit], at: VolumePath) -> list[Span]:
        """Take in what names an entry; returns the spans that the rules answer for."""
        wanted = self._wanted
        covered = [(hit.node.start, hit.node.end) for hit in hits]
        sure: list[NodeHit] = []
        for hit in hits:
            if len(hit.entries) == 1:
                if hit.entries[0].at.path in wanted:
                    sure.append(hit)
            elif any(entry.at.path in wanted for entry in hit.entries):
                self._add_ambiguity(at, hit.node.line, hit.node.text, hit.entries)
        if not sure or not self._is_editable(document, at):
            return covered
        pairs = self._sort_out(document, sure, at)
        if pairs:
            if document.format == "shell":
                covered += [(one.node.start, one.node.end) for one, _ in pairs]
            references, entries = zip(*pairs, strict=True)
            self._manifests.append(
                ManifestReferences(at, document.format, references, document, self._rule, entries)
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

    def _sort_out(
        self, document: Document, sure: Sequence[NodeHit], at: VolumePath
    ) -> list[tuple[Reference, Entry]]:
        """The references that an edit can reach; words of a script that it cannot are mentions."""
        if document.format != "shell":
            return [
                (hit.reference(at), self._wanted[hit.entries[0].at.path]) for hit in sure if hit.start >= 0
            ]
        from workbench.card.script_probe import split_editable

        by_entry: dict[str, list[NodeHit]] = {}
        for hit in sure:
            by_entry.setdefault(hit.entries[0].at.path, []).append(hit)
        pairs: list[tuple[Reference, Entry]] = []
        for path, hits in by_entry.items():
            entry, variables = self._wanted[path], self._reading.profile.variables
            references, left = split_editable(document, hits, entry, self._rule, at, variables)
            pairs += [(one, entry) for one in references]
            self._mentions += dict.fromkeys(mention_line(document.raw, at, node.start) for node in left)
        return sorted(pairs, key=lambda pair: (pair[0].node.start, pair[0].start))

    # What no rule covers

    def _mention(
        self, raw: bytes, at: VolumePath, documents: Sequence[Document], covered: list[Span]
    ) -> None:
        """What the rules do not answer for; shown names and other menus are asked only if needed."""
        found = self._names.find_mentions(raw, at, documents, covered)
        if found and (answering := self._reading.rules.find_answering(at)):
            opened = {document.format: document for document in documents}
            for format in answering:
                document = opened.get(format) or self._open_quietly(raw, at, format)
                if document is not None:
                    covered += self._reading.rules.find_answered(document, at, self._names.could_hold)
            found = self._names.find_mentions(raw, at, documents, covered)
        self._mentions += found

    def _open_quietly(self, raw: bytes, at: VolumePath, format: Format) -> Document | None:
        from workbench.manifests.opening import open_document

        try:
            return open_document(raw, format, str(at), self._reading.profile.variables)
        except ManifestError:
            return None

    def _mention_names(self) -> None:
        """The names of files and folders that hold an entry's."""
        for volume in self._tree.roles():
            for folder, listing in index_names(self._tree).folders(volume).items():
                known = self._known.get((volume, folder), ())
                names = [name for name, _ in listing if name not in known]
                if names and self._names.could_be_among(names):  # most folders are done with here
                    at = VolumePath(volume, folder)
                    for name in names:
                        self._mention_name(at.child(name))

    def _mention_name(self, at: VolumePath) -> None:
        """A name that no rule covers. What lies in an entry moves with it and keeps its name."""
        for entry, mention in self._names.find_in_name(at):
            beside = at.is_below(entry.at) or at.parent == entry.at.parent
            if not beside and not self._reading.rules.belongs_elsewhere(at):
                self._mentions.append(mention)

    def _find_unruled(self, hits: tuple[list[Hit], list[Hit]] | None) -> Iterable[Hit]:
        """The files that no rule covers and that could mention an entry."""
        is_ruled, contents = self._reading.is_ruled, self._reading.contents
        if hits is None:
            return self._names.sweep(contents, self._list_unruled())
        left = ((volume, "", (path,)) for volume, path in hits[0] if not is_ruled(volume, path))
        found = (hit for hit in hits[1] if not is_ruled(*hit))
        return chain(found, self._names.sweep(contents, left))

    def _list_unruled(self) -> Iterator[Folder]:
        for volume in self._tree.roles():
            ruled = self._reading.rules.files.get(volume, {})
            for folder, listing in index_names(self._tree).folders(volume).items():
                prefix = f"{folder}/" if folder else ""
                yield volume, folder, [name for name in list_texts(listing) if prefix + name not in ruled]

    def _search_unruled(self, volume: str, path: str) -> None:
        at = VolumePath(volume, path)
        try:
            raw = self._reading.contents.read(volume, path)
        except TooLarge as large:
            if large.is_text:
                self._unsearched.append(at)
            return
        if raw is not None:
            self._mention(raw, at, (), [])

    def _add_ambiguity(self, at: VolumePath, line: int | None, text: str, entries: Sequence[Entry]) -> None:
        self._ambiguous.append(Ambiguity(at, line, text, tuple(entry.at for entry in entries)))


def _by_place(mention: Mention) -> tuple[VolumePath, int, int]:
    return mention.at, mention.line or 0, mention.offset or 0

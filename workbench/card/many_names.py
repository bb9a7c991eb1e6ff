"""Looks for the names of some entries at once, in texts and in raw bytes.

A few names are looked for one by one. For many, a text is cut into words, and only names that hold one of
them are looked for: each name is known by one word of its own, a run of ASCII letters and digits; a name
without any is looked for by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from workbench.card.contents import Contents, TooLarge
from workbench.card.entry import Entry
from workbench.card.mention import Mention
from workbench.card.mentions import find_mentions, find_name_mention
from workbench.card.needle import Needle
from workbench.card.paths import VolumePath
from workbench.card.profile import NamesRule
from workbench.card.sweep import Folder, Hit, sweep
from workbench.late_pattern import late_pattern
from workbench.manifests.document import Document, Format, anything
from workbench.manifests.looking import CouldMatch

_WORDS = late_pattern(rb"[A-Za-z0-9]+")
_ESCAPED = late_pattern(rb"\\[nrtbfv]|%[0-9A-Fa-f]{2}")
"""Written as letters or digits, and no part of a word."""
_ENCODED = (b"\\u", b"\\U", b"\\x", b"\\0", b"&", b"%", b"\\")
"""Bytes without which no manifest can hold a character in another form than its own."""

_FEW = 8
"""Names that are looked for one by one; for more it pays to cut a text into words."""
_AT_ONCE = 256 * 1024
"""Bytes of small files that are cut into words together."""

_Span = tuple[int, int]


class ManyNames:
    """The names (or stems) of some entries of a menu."""

    def __init__(self, wanted: Sequence[Entry], every: Iterable[Entry], rule: NamesRule) -> None:
        self.rule = rule
        self._entries: dict[bytes, list[Entry]] = {}
        self._wordless: list[bytes] = []
        self._by_word: dict[bytes, list[bytes]] = {}
        self._needles: dict[bytes, Needle] = {}
        self._longer: dict[bytes, tuple[bytes, ...]] = {}
        self._among: dict[str, bool] = {}
        """Whether names of a folder, joined, could hold one: many folders hold the same."""
        for entry in wanted:
            self._entries.setdefault(_encode(entry.stem), []).append(entry)
        self.are_few = len(self._entries) <= _FEW
        for plain in self._entries if not self.are_few else ():
            word = max(_WORDS.findall(plain), key=len, default=b"")
            if word:
                self._by_word.setdefault(word, []).append(plain)
            else:
                self._wordless.append(plain)
        self._others = {_encode(name): entry.stem for entry in every for name in (entry.name, entry.stem)}
        self.could_be_in: CouldMatch = self._make_look()
        """Whether a decoded text could name one, in any spelling; where there are many, any text could."""

    @property
    def only(self) -> str:
        """The name, where just one is looked for."""
        (plain,) = self._entries
        return plain.decode("utf-8", "surrogateescape")

    def _make_look(self) -> CouldMatch:
        if not self.are_few:
            return anything
        needles = [self._needle(plain) for plain in self._entries]
        if len(needles) == 1:
            return needles[0]
        return lambda text: any(needle.could_be_in(text) for needle in needles)

    def could_name(self, raw: bytes, format: Format) -> bool:
        """Whether these bytes, read as that format, could name one of them. Never False where they do."""
        return not self.are_few or any(self._needle(plain).could_name(raw, format) for plain in self._entries)

    def could_hold(self, text: str) -> bool:
        """Whether a text could hold one of the names."""
        return self.could_be_in(text) if self.are_few else bool(self._find_candidates(_encode(text)))

    def could_be_among(self, names: Sequence[str]) -> bool:
        """Whether one of these names of files could hold one."""
        joined = "\n".join(names)
        known = self._among.get(joined)
        if known is None:
            known = bool(self._find_candidates(_encode(joined)))
            if len(names) < _FEW:
                self._among[joined] = known
        return known

    def sweep(self, contents: Contents, folders: Iterable[Folder]) -> Iterator[Hit]:
        """The files that hold one of the names, or are too large to tell."""
        if self.are_few:
            needles = [self._needle(plain) for plain in self._entries]
            return sweep(contents, folders, [form for one in needles for form in (one.plain, one.wide)])
        return self._sweep(contents, folders)

    def _sweep(self, contents: Contents, folders: Iterable[Folder]) -> Iterator[Hit]:
        """Small files of text are looked at together; where one of many holds a name, each by itself."""
        waiting: list[tuple[str, str, bytes]] = []
        size = 0
        for volume, folder, names in folders:
            prefix = f"{folder}/" if folder else ""
            for name, raw in contents.read_folder(volume, folder, names):
                if isinstance(raw, TooLarge) or (b"\0" in raw and self._find_candidates(raw)):
                    yield volume, prefix + name
                elif b"\0" not in raw:
                    waiting.append((volume, prefix + name, raw))
                    size += len(raw)
                    if size > _AT_ONCE:
                        yield from self._look_through(waiting)
                        waiting, size = [], 0
        yield from self._look_through(waiting)

    def _look_through(self, files: list[tuple[str, str, bytes]]) -> Iterator[Hit]:
        if self._find_candidates(b"\n".join([raw for _, _, raw in files])):
            for volume, path, raw in files:
                if self._find_candidates(raw):
                    yield volume, path

    def could_stand_alone(self, raw: bytes, format: Format) -> bool:
        """Whether one of the names, in any spelling that the device takes, is there as a word of its own."""
        if self.are_few:
            return any(self._needle(plain).could_stand_alone(raw, format) for plain in self._entries)
        folded = raw.lower()
        likely = [plain for plain in self._entries if not plain.isascii() or plain.lower() in folded]
        if any(self._needle(plain).could_stand_alone(raw, format) for plain in likely):
            return True
        if not any(sign in raw for sign in _ENCODED):
            return False
        rest = self._entries.keys() - set(likely)
        return any(self._needle(plain).could_stand_alone(raw, format) for plain in sorted(rest))

    def find_in_name(self, at: VolumePath) -> list[tuple[Entry, Mention]]:
        """The entries whose name stands in a file's name, as a word of its own."""
        found = []
        for plain in self._find_candidates(_encode(at.name)):
            mention = find_name_mention(at, self._needle(plain), self._longer_than(plain))
            if mention is not None:
                found += [(entry, mention) for entry in self._entries[plain]]
        return found

    def find_mentions(
        self, raw: bytes, at: VolumePath, documents: Sequence[Document], covered: Sequence[_Span]
    ) -> list[Mention]:
        """Mentions of any of the names outside the spans that a rule answers for."""
        format = documents[0].format if documents else None
        candidates = self._entries.keys() if self.are_few else self._find_mentioned(raw, documents, covered)
        found: list[Mention] = []
        for plain in sorted(candidates):
            needle, longer = self._needle(plain), self._longer_than(plain)
            found += find_mentions(raw, at, needle, longer, format=format, covered=covered)
        return found

    def _find_mentioned(
        self, raw: bytes, documents: Sequence[Document], covered: Sequence[_Span]
    ) -> set[bytes]:
        """The names that could stand outside the spans, in a manifest also encoded."""
        left = _blank(raw, covered) if covered else raw
        candidates = self._find_candidates(left)
        if documents and any(sign in left for sign in _ENCODED):
            spans = set(covered)
            nodes = (node for document in documents for node in document.find(None))
            texts = "\n".join(node.text for node in nodes if (node.start, node.end) not in spans)
            candidates |= self._find_candidates(_encode(texts))
        return candidates

    def _find_candidates(self, raw: bytes) -> set[bytes]:
        """The names that could stand there as a word of their own, in plain bytes or in UTF-16."""
        if self.are_few:
            is_binary = b"\0" in raw
            return {
                plain
                for plain in self._entries
                if plain in raw or (is_binary and self._needle(plain).wide in raw)
            }
        words = set(_WORDS.findall(_ESCAPED.sub(b" ", raw) if b"\\" in raw or b"%" in raw else raw))
        found = {plain for word in words & self._by_word.keys() for plain in self._by_word[word]}
        found = {plain for plain in found if plain in raw}
        found.update(plain for plain in self._wordless if plain in raw)
        if b"\0" in raw:
            narrow = raw.replace(b"\0", b"")
            words = set(_WORDS.findall(narrow))
            near = [plain for word in words & self._by_word.keys() for plain in self._by_word[word]]
            found.update(plain for plain in (*near, *self._wordless) if self._needle(plain).wide in raw)
        return found

    def _needle(self, plain: bytes) -> Needle:
        if plain not in self._needles:
            self._needles[plain] = Needle(plain.decode("utf-8", "surrogateescape"), self.rule)
        return self._needles[plain]

    def _longer_than(self, plain: bytes) -> tuple[bytes, ...]:
        """Other entries' names that hold this one: where one of them stands, this one is not meant."""
        if plain not in self._longer:
            stem = plain.decode("utf-8", "surrogateescape")
            own = {_encode(entry.name) for entry in self._entries[plain]}
            others = (name for name, other in self._others.items() if other != stem and name not in own)
            longer = (name for name in others if plain in name)
            self._longer[plain] = tuple(sorted(longer))
        return self._longer[plain]


def count_roughly(stems: Mapping[str, str], raws: Iterable[bytes]) -> dict[str, int]:
    """How often each stem stands in these bytes, by the name that it belongs to; longer names apart."""
    plain = {name: _encode(stem) for name, stem in stems.items()}
    counts = dict.fromkeys(plain, 0)
    for raw in raws:
        for name, stem in plain.items():
            counts[name] += raw.count(stem) if stem else 0
    done: list[str] = []
    for name in sorted(plain, key=lambda one: -len(plain[one])):
        longer = (other for other in done if plain[name] in plain[other] and plain[name] != plain[other])
        counts[name] = max(0, counts[name] - sum(counts[other] for other in longer))
        done.append(name)
    return counts


def _encode(text: str) -> bytes:
    return text.encode("utf-8", "surrogateescape")


def _blank(raw: bytes, spans: Iterable[_Span]) -> bytes:
    """The bytes with line ends in place of everything that a rule answers for."""
    pieces: list[bytes] = []
    done = 0
    for start, end in sorted(spans):
        if end > done:
            pieces += raw[done : max(start, done)], b"\n"
            done = end
    return b"".join((*pieces, raw[done:]))

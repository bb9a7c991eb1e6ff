"""What names an entry: places in manifests, and files whose own names do. Values only."""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.entry import Entry
from workbench.card.mention import Mention
from workbench.card.paths import VolumePath
from workbench.card.profile import MenuRule
from workbench.errors import ManifestError
from workbench.manifests.document import Document, Format, Node
from workbench.typed import Literal, NamedTuple
from workbench.values import dataclass, field, replace

Piece = Literal["entry", "stem"]
"""What stands at the place: the entry's whole name, or its name without the suffix."""

Coding = Literal["plain", "percent", "command"]
"""How the name is written inside the decoded text: as it is, percent-encoded, or as a command's word."""


class Reference(NamedTuple):
    """One place in a manifest that names an entry under a rule of the profile."""

    at: VolumePath
    """The manifest."""
    line: int
    kind: str
    """`path`, or what holds the name: `key`, `section`, `value`, `word`, `assignment`, `line`, `attribute`,
    `text`."""
    text: str
    """The whole decoded text there."""
    start: int
    end: int
    """Characters of `text` that name the entry."""
    piece: Piece
    node: Node
    coding: Coding = "plain"
    before: str = ""
    after: str = ""
    """Where the text names a file of the entry (`Boats_s.png`): what stands around the piece in its name."""


@dataclass(frozen=True, slots=True)
class FileReference:
    """A file or folder whose own name names an entry: a picture, a companion."""

    at: VolumePath
    kind: str
    """`icon`, `art` … as the profile says, or `companion`."""
    piece: Piece
    before: str
    after: str
    """What stands around the piece in its name; the suffix's case as it is on the card."""
    line: None = None

    def renamed(self, new_piece: str) -> VolumePath:
        """The place beside this one for another name or stem."""
        return self.at.with_name(self.before + new_piece + self.after)


@dataclass(frozen=True, slots=True)
class ManifestReferences:
    """All references to the entries looked for in one manifest, in document order."""

    at: VolumePath
    format: Format
    references: tuple[Reference, ...]
    document: Document = field(repr=False, compare=False)
    rule: MenuRule = field(repr=False, compare=False)
    entries: tuple[Entry, ...] = field(default=(), repr=False, compare=False)
    """The entry that each reference names."""


@dataclass(frozen=True, slots=True)
class Blocked:
    """A ruled manifest that may name the entry and cannot be read: it stands in the way of a rename."""

    at: VolumePath
    format: Format
    error: ManifestError


@dataclass(frozen=True, slots=True)
class Ambiguity:
    """A place that could name more than one entry. Never guessed at, never changed."""

    at: VolumePath
    line: int | None
    text: str
    entries: tuple[VolumePath, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """Everything that names the entries looked for, mostly one."""

    manifests: tuple[ManifestReferences, ...] = ()
    files: tuple[FileReference, ...] = ()
    """Pictures and companions, deepest first."""
    mentions: tuple[Mention, ...] = ()
    blocked: tuple[Blocked, ...] = ()
    ambiguous: tuple[Ambiguity, ...] = ()
    unsearched: tuple[VolumePath, ...] = ()
    """Text files over the size of a manifest: not searched for mentions."""

    absent: tuple[str, ...] = ()
    """Roles of volumes that rules point at and that are not there: what names the entry there is unknown."""
    owners: tuple[Entry, ...] = field(default=(), compare=False)
    """The entry that each of the files goes with."""

    def without_manifests(self) -> Found:
        """All but the manifests, where what is to be known of these was worked out already."""
        return replace(self, manifests=())

    @property
    def references(self) -> tuple[Reference | FileReference, ...]:
        """Every reference, manifests first."""
        return (*(one for found in self.manifests for one in found.references), *self.files)


AllReferences = Mapping[VolumePath, tuple[Reference | FileReference, ...]]
"""References by the entry's place."""

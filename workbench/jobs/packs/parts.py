"""What is in a pack, part by part, and what would become of each on a card."""

from __future__ import annotations

from pathlib import Path

from workbench.card.paths import VolumePath
from workbench.host.archives.member import Archive
from workbench.jobs.packs.pack_list import PackList
from workbench.typed import Literal, Protocol
from workbench.values import dataclass

PartStanding = Literal[
    "new", "same", "changed", "clash", "litter", "about", "refused", "undecided", "left-out"
]
"""`changed` replaces what is there; `clash` would replace what may be a person's own work; `about` is a text
about the pack itself; `undecided` waits for the answer to a question."""

Decision = Literal["mine", "theirs", "both"]
"""Of a clash: keep what is there, take the pack's, or take the pack's under another name."""


@dataclass(frozen=True, slots=True)
class Part:
    """One file of a pack."""

    path: str
    """In the pack."""
    at: VolumePath | None
    """Where it would go on the card."""
    standing: PartStanding
    because: str = ""
    """Why, as the end of a sentence that starts with the part's name; empty where it speaks for itself."""
    size: int = 0
    sha256: str = ""
    before: str = ""
    """SHA-256 of the file that is there now; empty where none is."""
    is_executable: bool = False


@dataclass(frozen=True, slots=True)
class PackQuestion:
    """Where one part of a pack's tree belongs, if that is not plain."""

    top: str
    """The folder or file of the pack that is asked about; empty for all of it."""
    text: str
    choices: tuple[VolumePath, ...]
    """Likeliest first; any other place may be answered too."""
    parts: int
    """Files that wait for the answer."""


class Traces(Protocol):
    """What the ledger knows of the files on a card."""

    def name_of(self, at: VolumePath, sha256: str) -> str:
        """The name of the pack that left a file as it is now; empty where none did."""
        ...

    def author_of(self, at: VolumePath) -> str:
        """In words, whose change a file holds; empty where the ledger knows of none."""
        ...


@dataclass(frozen=True, slots=True)
class PackLook:
    """A pack that was looked into. Nothing was written."""

    archive: Archive
    name: str
    list: PackList | None
    """What the pack says of itself, if it was made here."""
    sha256: str
    """Of the archive; empty for a folder."""
    parts: tuple[Part, ...]
    questions: tuple[PackQuestion, ...]
    notes: tuple[str, ...] = ()

    def of(self, *standings: PartStanding) -> tuple[Part, ...]:
        """The parts that stand so."""
        return tuple(part for part in self.parts if part.standing in standings)

    @property
    def source(self) -> Path:
        return self.archive.path

"""What a survey says: findings with their evidence, questions, and a person's edits. Values only."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.jobs.survey.reading import Reading, Skipped
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.jobs.survey.analysis import Analysis, Texts

Standing = Literal["proposed", "taken", "corrected", "dropped"]


@dataclass(frozen=True, slots=True)
class Evidence:
    """One place on the card that speaks for a finding."""

    at: VolumePath
    line: int | None
    """1-based; None for a file or folder as a whole."""
    words: str
    """What stands there."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the profile."""

    key: str
    value: Any
    """As TOML holds it: text, number, truth, list, table."""
    why: str
    """The comment beside it."""


@dataclass(frozen=True, slots=True)
class Finding:
    """Lines of the profile that stand or fall together."""

    id: str
    """Dotted and stable while the card is: `menus.shelf.references.house/register.json/things/{entry}`."""
    table: tuple[str, ...]
    """The TOML table that the lines stand in; a list of tables gets one for each finding."""
    lines: tuple[Line, ...]
    because: str
    """One sentence for a person."""
    confidence: float
    """0 to 1; under 0.5 it is a guess."""
    evidence: tuple[Evidence, ...] = ()
    alternatives: tuple[str, ...] = ()
    standing: Standing = "proposed"

    @property
    def line(self) -> str:
        """What of the profile it is, in one line."""
        from workbench.jobs.survey.profile_text import write_line

        return write_line(self)


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question."""

    value: str
    """What is given to `answer`."""
    words: str
    """What a person reads."""


@dataclass(frozen=True, slots=True)
class Question:
    """Something that only the device shows."""

    id: str
    words: str
    choices: tuple[Choice, ...]
    default: str
    """The value that is taken while nobody answers."""
    because: str
    """What the answer decides."""


@dataclass(frozen=True, slots=True)
class Mention:
    """A place that names an entry and that no rule of the profile answers for."""

    at: VolumePath
    line: int | None
    text: str
    because: str


@dataclass(frozen=True, slots=True)
class Survey:
    """What is known of a card's layout so far. Never changed: an answer or a correction makes another."""

    card: Card
    name: str
    """What the profile calls the device."""
    findings: tuple[Finding, ...]
    questions: tuple[Question, ...]
    """The next one of each kind that is open; at most four are ever asked."""
    answers: Mapping[str, str]
    unruled: tuple[Mention, ...]
    notes: tuple[str, ...]
    """Sentences worth showing: what was left out, and why."""
    skipped: tuple[Skipped, ...]
    reading: Reading = field(repr=False, compare=False)
    texts: Texts = field(repr=False, compare=False)
    analysis: Analysis | None = field(default=None, repr=False, compare=False)
    drafted: tuple[Finding, ...] = field(default=(), repr=False, compare=False)
    """The findings as the card gave them, before anyone touched them."""
    added: tuple[Finding, ...] = field(default=(), repr=False)
    """Of menus that a person named."""
    edits: Mapping[str, tuple[Standing, Sequence[Line] | None]] = field(default_factory=dict)
    """By finding: how a person left it, and the lines that they put there."""

    def finding(self, finding_id: str) -> Finding:
        """The finding of that id (`KeyError` where there is none)."""
        return {one.id: one for one in self.findings}[finding_id]

    @property
    def asked(self) -> int:
        """How many questions were answered."""
        return len(self.answers)

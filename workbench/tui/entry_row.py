"""One row of the menu: an entry as the device shows it, and what waits for it. Values only."""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import TYPE_CHECKING, Any

from workbench.tui.lines import Line, Piece
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.card.paths import VolumePath
    from workbench.tui.desk import Desk


@dataclass(frozen=True, slots=True)
class EntryRow:
    """One row: an entry as the device shows it, and what waits for it."""

    name: str
    label: str
    waiting: str = ""
    """`moved`, `renamed`, `new`, or nothing."""
    origin: VolumePath | None = None
    """Where it is on the card now; None in rows that stand for no file."""
    entry: Entry | Any = field(default=None, compare=False)
    key: Hashable = field(default=None, compare=False)

    @property
    def identity(self) -> Hashable:
        """What tells the entry from every other while a plan grows."""
        return self.key or self.origin or self.name

    @property
    def line(self) -> Line:
        """Shown name first, the name on the card in brackets where it differs."""
        pieces: list[Piece] = [(self.label or self.name, "plain")]
        if self.label and self.label != self.name:
            pieces.append((f"  ({self.name})", "muted"))
        return Line(tuple(pieces), ((f"* {self.waiting}", "waiting"),) if self.waiting else ())

    @property
    def sort_text(self) -> str:
        """What it is sorted by: the shown name; of a name that is shown, what follows the prefix."""
        return self.label or self.name.removeprefix(getattr(self.entry, "prefix", ""))


def identity_of(row: EntryRow) -> Hashable:
    """The row's identity."""
    return row.identity


def block_words(block: Sequence[EntryRow]) -> str:
    """`Boats`, or `3 entries`."""
    return block[0].name if len(block) == 1 else f"{len(block)} entries"


def make_row(entry: Entry, menu: Menu, desk: Desk) -> EntryRow:
    """An entry's row, as the waiting plan leaves the card."""
    label = entry.label if entry.has_label else ""
    if not label and entry.prefix and not menu.rule.prefix.shown:
        label = entry.name.removeprefix(entry.prefix)
    if not desk.waiting:
        return EntryRow(entry.name, label, "", entry.at, entry, entry.at)
    outcome = desk.outcome
    origin = outcome.origin(entry.at)
    waiting = ""
    if entry.at in outcome.new:
        waiting = "new"
    elif origin != entry.at:
        rest = entry.name.removeprefix(entry.prefix)
        waiting = "moved" if origin.name.endswith(rest) else "renamed"
    return EntryRow(entry.name, label, waiting, origin, entry, outcome.key(entry.at))

"""The menu as the device lists it, with one entry that can be taken, carried with the arrows and placed.

The list only says where the entry should go (`PlaceRequested`); it plans and writes nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Literal

from textual.message import Message

from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, Piece
from workbench.tui.tones import Tone
from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.card.menu import Entry
    from workbench.card.paths import VolumePath

Spot = Literal["first", "last", "before", "after"]


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

    @property
    def line(self) -> Line:
        """Shown name first, the name on the card in brackets where it differs."""
        pieces: list[Piece] = [(self.label or self.name, "plain")]
        if self.label and self.label != self.name:
            pieces.append((f"  ({self.name})", "muted"))
        return Line(tuple(pieces), ((f"* {self.waiting}", "waiting"),) if self.waiting else ())


class EntryList(LineList):
    """The entries of one menu."""

    class PlaceRequested(Message):
        """A carried entry was set down at another place."""

        def __init__(self, entry: Any, spot: Spot, neighbour: Any) -> None:
            super().__init__()
            self.entry = entry
            self.spot = spot
            self.neighbour = neighbour

    class TakenChanged(Message):
        """An entry was taken, or is no longer."""

    def __init__(self, rows: Sequence[EntryRow] = (), *, id: str | None = None) -> None:
        super().__init__(id=id, empty="reading the menu …")
        self.rows: Sequence[EntryRow] = tuple(rows)
        self._before_take: Sequence[EntryRow] | None = None

    def show_rows(self, rows: Sequence[EntryRow], cursor: int | None = None) -> None:
        """Show another state of the menu; a carried entry is put down first."""
        if self._before_take is not None:
            self._before_take = None
            self.post_message(self.TakenChanged())
        same_length = len(rows) == len(self.rows)
        before, self.rows = self.rows, tuple(rows)
        if same_length and cursor in (None, self.cursor) and rows:
            self._repaint_differing(before)
        else:
            self.recount(cursor)

    def _repaint_differing(self, before: Sequence[EntryRow]) -> None:
        for index in range(self.top, min(self.top + self.size.height, len(self.rows))):
            if before[index] != self.rows[index]:
                self.refresh_line(index)
        self.post_message(self.CursorMoved(self, self.cursor))

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def row(self) -> EntryRow | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    @property
    def is_carrying(self) -> bool:
        """Whether an entry is taken."""
        return self._before_take is not None

    def line_at(self, index: int) -> Line:
        return self.rows[index].line

    def glyph_at(self, index: int) -> str:
        if self.is_carrying and index == self.cursor:
            return "↕ "
        return super().glyph_at(index)

    def tone_at(self, index: int) -> Tone | None:
        if self.is_carrying and index == self.cursor:
            return "taken"
        return super().tone_at(index)

    # Carrying

    def action_choose(self) -> None:
        self.toggle_take()

    def toggle_take(self) -> None:
        """Take the entry under the cursor, or place the one that is taken."""
        if not self.is_carrying:
            if self.rows:
                self._before_take = self.rows
                self._take_changed()
            return
        before, self._before_take = self._before_take, None
        moved = self.rows != before
        self._take_changed()
        if moved:
            self.post_message(self._placed())

    def put_back(self) -> None:
        """End carrying with everything as it was."""
        if self._before_take is None:
            return
        row = self.row
        before, self._before_take = self._before_take, None
        self.show_rows(before, before.index(row) if row else None)
        self._take_changed()

    def _take_changed(self) -> None:
        self.refresh_line(self.cursor)
        self.post_message(self.TakenChanged())

    def _placed(self) -> PlaceRequested:
        at, rows = self.cursor, self.rows
        if at == 0:
            return self.PlaceRequested(rows[at].entry, "first", None)
        if at == len(rows) - 1:
            return self.PlaceRequested(rows[at].entry, "last", None)
        return self.PlaceRequested(rows[at].entry, "after", rows[at - 1].entry)

    def move_cursor(self, to: int) -> None:
        """With an entry taken, it comes along."""
        to = max(0, min(to, self.count - 1))
        at = self.cursor
        if self.is_carrying and to != at:
            rows = list(self.rows)
            rows.insert(to, rows.pop(at))
            self.rows = tuple(rows)
            for index in range(min(at, to), max(at, to) + 1):
                self.refresh_line(index)
        super().move_cursor(to)

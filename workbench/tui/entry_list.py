"""The menu as the device lists it: entries can be taken or marked, carried with the arrows, and placed.

The list shows the wanted order at once and says what is wanted (`OrderWanted`); it plans and writes nothing.
Marks and what is carried are told by keys, so that they outlive a menu that is read again.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterator, Sequence
from contextlib import contextmanager
from typing import Literal

from textual.message import Message

from workbench.tui.arranging import changed_in_place, gathered, in_order, placed_beside, text_key
from workbench.tui.entry_row import EntryRow, block_words, identity_of
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.tones import Tone
from workbench.values import dataclass

Side = Literal["before", "after"]


@dataclass(frozen=True, slots=True)
class Wanted:
    """An order that is wanted, what it was before, and what the move is called."""

    title: str
    before: tuple[Hashable, ...]
    keys: tuple[Hashable, ...]
    carried: tuple[Hashable, ...] = ()
    """The entries that the person moved."""


class EntryList(LineList):
    """The entries of one menu."""

    class OrderWanted(Message):
        """Another order is wanted, and shown."""

        def __init__(self, wanted: Wanted) -> None:
            super().__init__()
            self.wanted = wanted

    class Carried(Message):
        """Entries are being carried, and would come to this order here."""

        def __init__(self, wanted: Wanted) -> None:
            super().__init__()
            self.wanted = wanted

    class HandChanged(Message):
        """Other entries are taken or marked now."""

        def __init__(self, came_to_nothing: bool = False) -> None:
            super().__init__()
            self.came_to_nothing = came_to_nothing
            """Whether what was carried is no longer, and nothing is wanted."""

    def __init__(self, rows: Sequence[EntryRow] = (), *, id: str | None = None) -> None:
        super().__init__(id=id, empty="reading the menu …")
        self.rows: Sequence[EntryRow] = tuple(rows)
        self.marked: tuple[Hashable, ...] = ()
        """Marked entries, in the order in which they were marked."""
        self._before_take: Sequence[EntryRow] | None = None
        self._carried: tuple[Hashable, ...] = ()

    # What it holds

    def show_rows(self, rows: Sequence[EntryRow], cursor: int | None = None) -> None:
        """Show the menu as it was read again; what is carried or marked stays so, if it is still there."""
        if self._before_take is not None:
            shown = in_order(rows, self._keys(self.rows), identity_of)
            before = in_order(rows, self._keys(self._before_take), identity_of)
            if shown is not None and before is not None:
                self._before_take = tuple(before)
                rows, cursor = shown, self.cursor
            else:
                self._put_down(came_to_nothing=True)
        self._keep_marks(rows)
        if len(rows) != len(self.rows) or not rows:
            self.rows = tuple(rows)
            self.recount(cursor)
            return
        with self._repainting():
            self.rows = tuple(rows)
            self._cursor = self.cursor if cursor is None else cursor
        self.post_message(self.CursorMoved(self, self.cursor))

    def show_order(self, keys: Sequence[Hashable]) -> None:
        """Show the same entries in another order; the cursor stays with its entry."""
        rows = in_order(self.rows, keys, identity_of)
        if rows is not None and self.row is not None:
            self.show_rows(rows, rows.index(self.row))

    def _keep_marks(self, rows: Sequence[EntryRow]) -> None:
        if self.marked:
            there = set(self._keys(rows))
            kept = tuple(key for key in self.marked if key in there)
            if kept != self.marked:
                self.marked = kept
                self.post_message(self.HandChanged())

    @contextmanager
    def _repainting(self) -> Iterator[None]:
        """Paint the rows in sight that look otherwise afterwards."""
        first, seen = self.top, [self._look(index) for index in self._in_sight()]
        yield
        if not self._bring_into_view():
            for index, look in enumerate(seen, first):
                if index >= self.count or look != self._look(index):
                    self.refresh_line(index)

    def _in_sight(self) -> range:
        return range(self.top, min(self.top + self.size.height, self.count))

    def _look(self, index: int) -> tuple[Line, str, Tone | None]:
        return self.line_at(index), self.glyph_at(index), self.tone_at(index)

    @staticmethod
    def _keys(rows: Sequence[EntryRow]) -> list[Hashable]:
        return [row.identity for row in rows]

    @property
    def count(self) -> int:
        return len(self.rows)

    @property
    def row(self) -> EntryRow | None:
        """The row under the cursor."""
        return self.rows[self.cursor] if self.rows else None

    @property
    def chosen(self) -> tuple[EntryRow, ...]:
        """What the next act is for: the marked entries as they were marked, or the one under the cursor."""
        by_key = {row.identity: row for row in self.rows} if self.marked else {}
        return tuple(by_key[key] for key in self.marked) or ((self.row,) if self.row else ())

    @property
    def is_carrying(self) -> bool:
        """Whether entries are taken."""
        return self._before_take is not None

    # How it looks

    def line_at(self, index: int) -> Line:
        row = self.rows[index]
        key, line = row.identity, row.line
        if self.is_carrying and key in self._carried:
            return Line(line.left, (("↕ taken ", "waiting"), *line.right))
        if key in self.marked:
            number = self.marked.index(key) + 1
            return Line(line.left, ((f"• marked {number} ", "key"), *line.right))
        return line

    def glyph_at(self, index: int) -> str:
        key = self.rows[index].identity
        if self.is_carrying and key in self._carried:
            return "↕ "
        return super().glyph_at(index)[:1] + ("•" if key in self.marked else " ")

    def tone_at(self, index: int) -> Tone | None:
        if self.is_carrying:
            return "taken" if self.rows[index].identity in self._carried else None
        return super().tone_at(index)

    # Marking

    def toggle_mark(self) -> None:
        """Mark the entry under the cursor, or no longer, and go on to the next."""
        if self.row is None or self.is_carrying:
            return
        key = self.row.identity
        self._mark(tuple(k for k in self.marked if k != key) if key in self.marked else (*self.marked, key))
        super().move_cursor(self.cursor + 1)

    def mark_range(self) -> None:
        """Mark everything from the last marked entry to the cursor."""
        if self.row is None or self.is_carrying:
            return
        keys = self._keys(self.rows)
        start = keys.index(self.marked[-1]) if self.marked else self.cursor
        span = keys[min(start, self.cursor) : max(start, self.cursor) + 1]
        if start > self.cursor:
            span.reverse()
        self._mark((*self.marked, *(key for key in span if key not in self.marked)))

    def unmark_all(self) -> bool:
        """Take all marks away; whether there were any."""
        had = bool(self.marked)
        if had:
            self._mark(())
        return had

    def _mark(self, keys: tuple[Hashable, ...]) -> None:
        with self._repainting():
            self.marked = keys
        self.post_message(self.HandChanged())

    # Carrying

    def action_choose(self) -> None:
        self.toggle_take()

    def toggle_take(self) -> None:
        """Take the marked entries, or the one under the cursor; or place what is taken."""
        if self.is_carrying:
            wanted = self.place()
            if wanted is not None:
                self.post_message(self.OrderWanted(wanted))
        elif self.rows:
            self._take(self.chosen)

    def _take(self, block: Sequence[EntryRow]) -> None:
        """Take these entries together, to where the cursor is."""
        held = {row.identity for row in block}
        at = sum(row.identity not in held for row in self.rows[: self.cursor])
        with self._repainting():
            self._before_take, self._carried = self.rows, tuple(row.identity for row in block)
            self._set_rows(gathered(self.rows, block, at), at)
        self.post_message(self.HandChanged())
        if self.rows != self._before_take:
            self._tell_carried()

    def place(self) -> Wanted | None:
        """Set down what is taken; what is wanted so, if that is another order."""
        if self._before_take is None:
            return None
        wanted = self._wanted(
            self._placed_title(self._block, self._block_start), self._before_take, self._block
        )
        is_moved = wanted.keys != wanted.before
        with self._repainting():
            self.marked = ()
            self._put_down(came_to_nothing=not is_moved)
        return wanted if is_moved else None

    def put_back(self) -> bool:
        """Put what is taken back to where it was; whether anything was taken."""
        if self._before_take is None:
            return False
        row, before = self.row, self._before_take
        with self._repainting():
            self._put_down(came_to_nothing=True)
            self._set_rows(before, before.index(row) if row else 0)
        return True

    def _put_down(self, *, came_to_nothing: bool) -> None:
        self._before_take, self._carried = None, ()
        self.post_message(self.HandChanged(came_to_nothing))

    def _tell_carried(self) -> None:
        title = self._placed_title(self._block, self._block_start)
        self.post_message(self.Carried(self._wanted(title, self._before_take or (), self._block)))

    def _wanted(self, title: str, before: Sequence[EntryRow], carried: Sequence[EntryRow]) -> Wanted:
        return Wanted(title, *(tuple(self._keys(rows)) for rows in (before, self.rows, carried)))

    @property
    def _block_start(self) -> int:
        first = self._carried[0]
        near = range(max(0, self.cursor - len(self._carried) + 1), self.cursor + 1)
        return next(index for index in near if self.rows[index].identity == first)

    @property
    def _block(self) -> Sequence[EntryRow]:
        return self.rows[self._block_start :][: len(self._carried)]

    def _placed_title(self, block: Sequence[EntryRow], at: int) -> str:
        what = block_words(block)
        if at == 0:
            return f"Send {what} first"
        if at + len(block) == self.count:
            return f"Send {what} last"
        return f"Place {what} after {self.rows[at - 1].name}"

    def move_cursor(self, to: int) -> None:
        """With entries taken, they come along."""
        if not self.is_carrying:
            super().move_cursor(to)
            return
        start, length = self._block_start, len(self._carried)
        at = max(0, min(start + max(0, min(to, self.count - 1)) - self.cursor, self.count - length))
        if at == start:
            return
        block = self.rows[start : start + length]
        rest = (*self.rows[:start], *self.rows[start + length :])
        with self._repainting():
            # The cursor goes at the front, so that the list follows in the direction of the move.
            self._set_rows((*rest[:at], *block, *rest[at:]), at if at < start else at + length - 1)
        self._tell_carried()
        self.post_message(self.CursorMoved(self, self.cursor))

    def _set_rows(self, rows: Sequence[EntryRow], cursor: int) -> None:
        self.rows = tuple(rows)
        self._cursor = max(0, min(cursor, len(rows) - 1))

    # Moves in one go

    # Each says whether it changed anything.

    def send(self, where: Literal["first", "last"]) -> bool:
        """Send the marked entries, or the one under the cursor, to an end; or what is carried."""
        if self.is_carrying:
            self.move_cursor(0 if where == "first" else self.count - 1)
            self.toggle_take()
            return True
        block = self.chosen
        at = 0 if where == "first" else self.count - len(block)
        title = f"Send {block_words(block)} {where}"
        return self._want(title, gathered(self.rows, block, at), block, to=block[0])

    def place_beside(self, side: Side) -> bool:
        """Place the marked entries beside the one under the cursor."""
        row, block = self.row, self.chosen
        if row is None or not self.marked or row in block:
            return False
        title = f"Place {block_words(block)} {side} {row.name}"
        return self._want(title, placed_beside(self.rows, block, row, side), block)

    def sort(self) -> bool:
        """Sort the marked entries, or all, by what the device shows for them."""
        return self._change_in_place(
            "Sort {} by shown name", lambda rows: sorted(rows, key=lambda row: text_key(row.sort_text))
        )

    def reverse(self) -> bool:
        """Turn the order of the marked entries round, or of all."""
        return self._change_in_place("Turn {} round", lambda rows: rows[::-1])

    def _change_in_place(self, title: str, change: Callable[[list[EntryRow]], list[EntryRow]]) -> bool:
        chosen = self.chosen if self.marked else self.rows
        what = block_words(chosen) if self.marked else "the menu"
        return self._want(title.format(what), changed_in_place(self.rows, chosen, change), chosen)

    def _want(
        self,
        title: str,
        rows: Sequence[EntryRow],
        carried: Sequence[EntryRow],
        to: EntryRow | None = None,
    ) -> bool:
        """Want another order; the cursor stays with its entry, or goes along with one that moves."""
        before, row = self.rows, self.row
        is_moved = any(old is not new for old, new in zip(before, rows, strict=True))
        if not is_moved or row is None:
            return False
        if to is not None and row not in self.chosen:
            row = to
        with self._repainting():
            self.marked = ()
            self._set_rows(rows, list(rows).index(row))
        self.post_message(self.HandChanged())
        self.post_message(self.OrderWanted(self._wanted(title, before, carried)))
        self.post_message(self.CursorMoved(self, self.cursor))
        return True

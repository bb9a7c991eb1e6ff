"""The one list of the workbench: any number of lines, a cursor, and as little repainting as there can be.

Invariant: a move of the cursor inside the visible part repaints two rows, whatever the length; at the edge
the list scrolls by half a page, so that most moves stay inside.
"""

from __future__ import annotations

from collections.abc import Sequence

from rich.segment import Segment
from rich.text import Text
from textual import events
from textual.geometry import Size
from textual.message import Message
from textual.strip import Strip

from workbench.shown import shown
from workbench.tui.actions import bindings_for
from workbench.tui.line_view import Toned
from workbench.tui.lines import Line, strip_of
from workbench.tui.tones import Tone

WHEEL_LINES = 3


class LineList(Toned, can_focus=True):
    """Lines with a cursor. The caller gives lines; the list says where the cursor is."""

    BINDINGS = bindings_for("list")

    class CursorMoved(Message):
        """The cursor stands on another line (or on other content)."""

        def __init__(self, line_list: LineList, index: int) -> None:
            super().__init__()
            self.line_list = line_list
            self.index = index

        @property
        def control(self) -> LineList:
            return self.line_list

    class Chosen(Message):
        """Enter was pressed on a line."""

        def __init__(self, line_list: LineList, index: int) -> None:
            super().__init__()
            self.line_list = line_list
            self.index = index

        @property
        def control(self) -> LineList:
            return self.line_list

    def __init__(self, *, empty: str = "", id: str | None = None, classes: str | None = None) -> None:
        super().__init__(id=id, classes=classes)
        self._lines: Sequence[Line] = ()
        self._empty = empty
        self._cursor = 0
        self._top = 0
        self._title = ""

    # What it holds

    @property
    def count(self) -> int:
        """How many lines there are."""
        return len(self._lines)

    @property
    def cursor(self) -> int:
        """The line that the cursor is on (0 where there is none)."""
        return self._cursor

    @property
    def top(self) -> int:
        """The first line that is in sight."""
        return self._top

    @property
    def lines(self) -> tuple[Line, ...]:
        """The lines, as last given."""
        return tuple(self.line_at(index) for index in range(self.count))

    def show(self, lines: Sequence[Line], cursor: int | None = None, empty: str | None = None) -> None:
        """Show these lines; the cursor keeps its place, or goes to `cursor`."""
        if empty is not None:
            self._empty = empty
        grew = len(lines) != len(self._lines)
        self._lines = lines
        self.recount(cursor)
        if grew and self.styles.auto_dimensions:
            self.refresh(layout=True)

    def set_title(self, text: str) -> None:
        """Write on the upper border; a title that stays is not painted again."""
        if text != self._title:
            self._title = text
            self.border_title = Text(shown(text))

    def recount(self, cursor: int | None = None) -> None:
        """Other lines are there now: find the cursor's place among them and paint them."""
        self._cursor = max(0, min(self._cursor if cursor is None else cursor, self.count - 1))
        self._bring_into_view()
        self.refresh()
        self.post_message(self.CursorMoved(self, self._cursor))

    def line_at(self, index: int) -> Line:
        """The line to draw at an index."""
        return self._lines[index]

    def tone_at(self, index: int) -> Tone | None:
        """The tone that lies over a whole line; None for none."""
        if index != self._cursor:
            return None
        return "cursor" if self.has_focus else "idle"

    def glyph_at(self, index: int) -> str:
        """The sign in front of a line: the cursor can be seen without colour."""
        return "› " if index == self._cursor else "  "

    # The cursor

    def move_cursor(self, to: int) -> None:
        """Put the cursor on a line (the nearest there is)."""
        to = max(0, min(to, self.count - 1))
        if to == self._cursor:
            return
        before, self._cursor = self._cursor, to
        if not self._bring_into_view():
            self.refresh_line(before)
            self.refresh_line(to)
        self.post_message(self.CursorMoved(self, to))

    def refresh_line(self, index: int) -> None:
        """Ask for one line to be painted again, if it is in sight."""
        if 0 <= index - self._top < self.size.height:
            self.refresh_row(index - self._top)

    def _bring_into_view(self) -> bool:
        """Scroll by half a page where the cursor is out of sight; whether that was needed."""
        height, before = self.size.height, self._top
        if height <= 0:
            return False
        if not self._top <= self._cursor < self._top + height:
            self._top = self._cursor - height // 2
        self._top = max(0, min(self._top, self.count - height))
        if self._top != before:
            self.refresh()
        return self._top != before

    def action_cursor_up(self) -> None:
        self.move_cursor(self._cursor - 1)

    def action_cursor_down(self) -> None:
        self.move_cursor(self._cursor + 1)

    def action_page_up(self) -> None:
        self.move_cursor(self._cursor - max(1, self.size.height - 1))

    def action_page_down(self) -> None:
        self.move_cursor(self._cursor + max(1, self.size.height - 1))

    def action_cursor_first(self) -> None:
        self.move_cursor(0)

    def action_cursor_last(self) -> None:
        self.move_cursor(self.count - 1)

    def action_choose(self) -> None:
        if self.count:
            self.post_message(self.Chosen(self, self._cursor))

    def on_click(self, event: events.Click) -> None:
        offset = event.get_content_offset(self)
        if offset is not None and self._top + offset.y < self.count:
            self.move_cursor(self._top + offset.y)

    def on_mouse_scroll_down(self) -> None:
        self.move_cursor(self._cursor + WHEEL_LINES)

    def on_mouse_scroll_up(self) -> None:
        self.move_cursor(self._cursor - WHEEL_LINES)

    def on_resize(self) -> None:
        self._bring_into_view()

    def on_focus(self) -> None:
        self.refresh_line(self._cursor)

    def on_blur(self) -> None:
        self.refresh_line(self._cursor)

    # Drawing

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:  # noqa: ARG002 - Textual's signature
        return max(1, self.count)

    def render_line(self, y: int) -> Strip:
        width, base = self.size.width, self.base
        index = self._top + y
        if index >= self.count:
            if index == 0 and self._empty:
                return strip_of(Line.of((f"  {self._empty}", "muted")), width, base, self.tones)
            return Strip.blank(width, base)
        tone = self.tone_at(index)
        line = self.line_at(index)
        marked = Line(((self.glyph_at(index), "plain"), *line.left), line.right)
        over = self.tones[tone] if tone else None
        if self.count <= self.size.height:
            return strip_of(marked, width, base, self.tones, over)
        strip = strip_of(marked, width - 1, base, self.tones, over)
        return Strip([*strip, Segment(self._thumb_at(y), base + self.tones["muted"])], width)

    def _thumb_at(self, y: int) -> str:
        """The sign at the right edge that says which part of the list is in sight."""
        height = self.size.height
        first = self._top * height // self.count
        last = -(-(self._top + height) * height // self.count)
        return "▐" if first <= y < last else " "

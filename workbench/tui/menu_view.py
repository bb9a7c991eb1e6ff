"""What the main page shows: the menu as the device lists it, the card, and what names an entry.

Reads in workers; what was read for a plan that no longer waits is dropped.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from typing import TYPE_CHECKING, Any

from textual import on, work
from textual.message import Message
from textual.timer import Timer
from textual.widget import Widget
from textual.worker import get_current_worker

from workbench.errors import CardwrightError
from workbench.tui.arranging import in_order
from workbench.tui.card_pane import CardPane
from workbench.tui.costs import count_words
from workbench.tui.desk import Desk
from workbench.tui.detail_pane import SILENCE_S, entry_lines, error_lines, found_lines
from workbench.tui.entry_list import EntryList
from workbench.tui.entry_row import EntryRow, identity_of, make_row
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, wrap
from workbench.tui.page import Page
from workbench.tui.picture_pane import Block, PicturePane

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.tui.entry_pictures import SeenPictures
    from workbench.tui.waiting import Waiting


MOST_SEARCHED = 300
"""Menus longer than this are indexed in one go; searching the card for each entry would take too long."""

MOST_PICTURE_BYTES = 6000
"""What a picture beside the menu may cost on the line to the terminal; it is made smaller until it does."""


class MenuView(Page):
    """Lists a menu, and tells what is known of the entry under the cursor."""

    where = "menu"
    AUTO_FOCUS = "#entries"

    class MenusRead(Message):
        """The menus were read, with or without labels."""

        def __init__(self, desk: Desk, waiting: Waiting, menus: Sequence[Menu], has_labels: bool) -> None:
            super().__init__()
            self.desk, self.waiting, self.menus, self.has_labels = desk, waiting, menus, has_labels

    class MenusFailed(Message):
        """The menus could not be read."""

        def __init__(self, error: CardwrightError) -> None:
            super().__init__()
            self.error = error

    class Indexed(Message):
        """What names the entries of a long menu is known, or why it cannot be."""

        def __init__(self, error: CardwrightError | None) -> None:
            super().__init__()
            self.error = error

    class DetailRead(Message):
        """What names an entry was found, or why that failed."""

        def __init__(self, entry: Any, lines: Sequence[Line]) -> None:
            super().__init__()
            self.entry, self.lines = entry, lines

    class PictureRead(Message):
        """An entry's picture was made ready, or there is none."""

        def __init__(self, entry: Entry, seen: SeenPictures) -> None:
            super().__init__()
            self.entry, self.seen = entry, seen

    last_folder = ""
    """Where the last picture was taken from."""

    def __init__(self, menus: Sequence[Menu] = ()) -> None:
        """`menus`: by name alone, where they were read already, so that the first frame has them."""
        super().__init__()
        self._menus = menus
        self._has_labels = False
        self._menu_id = menus[0].id if menus else ""
        self._silence: Timer | None = None
        self._stay: Hashable = None
        """The entry that the cursor keeps to when the menu is read again."""
        self._picture: int | None = None
        """The kind of picture that is shown in place of what names the entry."""
        self._kinds = 0
        self._read_for: Waiting | None = None
        """The plan that waited when the menu was read."""
        self._is_indexing = False

    def compose_body(self) -> Iterable[Widget]:
        yield CardPane(id="card-pane", classes="pane")
        yield EntryList(self._rows(), id="entries")
        yield LineList(id="detail")

    @property
    def entries(self) -> EntryList:
        """The list in the middle."""
        return self.query_one(EntryList)

    @property
    def menu(self) -> Menu | None:
        """The menu that is shown."""
        return next((menu for menu in self._menus if menu.id == self._menu_id), None)

    # Reading

    def forget(self) -> None:
        """Another card comes: forget this one's menus."""
        self._menus, self._has_labels, self._menu_id, self._stay = (), False, "", None
        self.entries.put_back()
        self.entries.unmark_all()
        self.entries.show_rows(())
        self.query_one("#detail", LineList).show(())

    def show_desk(self) -> None:
        desk = self.desk
        pane = self.query_one(CardPane)
        if desk is None:
            pane.show_card(None, None)
            return
        pane.show_card(desk.card, desk.profile.name if desk.profile else None)
        if desk.profile is None:
            self._say_no_profile(desk)
            return
        self._read_menus(desk, names_first=not self._menus)

    def _say_no_profile(self, desk: Desk) -> None:
        self._menus = ()
        said = (
            f"No device profile fits the card {desk.card.name}. "
            "7 surveys it: its layout is found out, and a profile is proposed."
        )
        self.entries.show_rows(())
        self.entries.show((), empty="no device profile fits this card")
        self.query_one("#detail", LineList).show([Line.of(part) for part in wrap(said, 36)])

    @work(thread=True, exclusive=True, group="menus", exit_on_error=False)
    def _read_menus(self, desk: Desk, *, names_first: bool) -> None:
        waiting = desk.waiting
        try:
            if names_first:
                names = desk.read_menus(labels=False, waiting=waiting)
                self.post_message(self.MenusRead(desk, waiting, names, False))
            menus = desk.read_menus(labels=True, waiting=waiting)
            self.post_message(self.MenusRead(desk, waiting, menus, True))
        except CardwrightError as error:
            self.post_message(self.MenusFailed(error))

    def on_menu_view_menus_read(self, message: MenusRead) -> None:
        if self.desk is None or message.desk is not self.desk or message.waiting is not self.desk.waiting:
            return
        self._menus, self._has_labels, self._read_for = message.menus, message.has_labels, message.waiting
        if self.menu is None:
            self._menu_id = next((menu.id for menu in self._menus if not menu.is_missing), "")
        self._show_menu()
        self.call_after_refresh(self.workbench.rows_shown, message.desk)

    def on_menu_view_indexed(self, message: Indexed) -> None:
        self._is_indexing = False
        if message.error is None:
            self._show_detail()
        else:
            self.query_one("#detail", LineList).show(list(error_lines(message.error, 40)))

    def on_menu_view_menus_failed(self, message: MenusFailed) -> None:
        self.entries.show((), empty="the menu could not be read")
        self.query_one("#detail", LineList).show(list(error_lines(message.error, 40)))

    def show_as_planned(self) -> None:
        """A wish came to nothing: show the menu as the waiting plan leaves it, not as it was carried."""
        if self._menus:
            self._show_menu()

    def _show_menu(self) -> None:
        menu, desk = self.menu, self.desk
        if menu is None or desk is None:
            self.entries.show_rows(())
            self.entries.show((), empty="the profile names no menu that is on this card")
            return
        rows = self._rows()
        stay = next((n for n, row in enumerate(rows) if row.identity == self._stay), None)
        self.entries.show_rows(rows, stay)
        if not rows:
            missing = "this menu's folder is not on the card"
            self.entries.show((), empty=missing if menu.is_missing else "this menu has no entries")
        self._show_titles(menu)
        self.show_keys()

    def _rows(self) -> list[EntryRow]:
        menu, desk = self.menu, self.desk
        if menu is None or desk is None:
            return []
        rows = [make_row(entry, menu, desk) for entry in menu.entries]
        return self._as_wanted(rows)

    def _as_wanted(self, rows: list[EntryRow]) -> list[EntryRow]:
        """In the order that is wanted, where that is not planned yet."""
        live = self.workbench.live if self.is_mounted and self.workbench.is_planning else None
        if live is None or live.menu_id != self._menu_id:
            return rows
        return in_order(rows, live.keys, identity_of) or rows

    def _show_titles(self, menu: Menu) -> None:
        ids = [other.id for other in self._menus]
        more = f"  ← {ids.index(menu.id) + 1} of {len(ids)} →" if len(ids) > 1 else ""
        self.entries.set_title(f"{menu.id}{more}: {count_words(len(menu.entries), 'entry', 'entries')}")

    # The cursor and the detail

    @on(LineList.CursorMoved, "#entries")
    def _follow_cursor(self) -> None:
        row = self.entries.row
        if row is not None and not self.entries.is_carrying:
            self._stay = row.identity
        if self._silence is not None:
            self._silence.stop()
        self._silence = self.set_timer(SILENCE_S, self._show_detail)

    def _show_detail(self) -> None:
        row, menu, desk = self.entries.row, self.menu, self.desk
        if row is None or menu is None or desk is None or not self._has_labels:
            return
        if desk.waiting is not self._read_for:
            return  # the menu is being read again
        if self._picture is not None:
            self._read_picture(desk, menu, row.entry, self._picture)
        elif len(menu.entries) <= MOST_SEARCHED or desk.has_index(menu):
            self._read_detail(desk, menu, row)
        else:
            self._wait_for_index(desk, menu, row)

    def _wait_for_index(self, desk: Desk, menu: Menu, row: EntryRow) -> None:
        """A long menu is read in one go; until that is done, say so."""
        lines = list(entry_lines(row.entry, menu, row.origin.name if row.origin else ""))
        lines.append(Line.of(("looking for what names it …", "muted")))
        self.query_one("#detail", LineList).show(lines, cursor=0)
        if not self._is_indexing:
            self._is_indexing = True
            self._index(desk, menu)

    @work(thread=True, group="index", exit_on_error=False)
    def _index(self, desk: Desk, menu: Menu) -> None:
        try:
            desk.index_menu(menu)
            self.post_message(self.Indexed(None))
        except CardwrightError as error:
            self.post_message(self.Indexed(error))

    @work(thread=True, exclusive=True, group="detail", exit_on_error=False)
    def _read_detail(self, desk: Desk, menu: Menu, row: EntryRow) -> None:
        worker = get_current_worker()
        width = self.query_one("#detail").size.width - 3
        origin = row.origin.name if row.origin else ""
        lines = list(entry_lines(row.entry, menu, origin))
        find = desk.find_indexed if desk.has_index(menu) else desk.find_references
        try:
            lines += found_lines(find(menu, row.entry), width)
        except CardwrightError as error:
            lines += error_lines(error, width)
        if not worker.is_cancelled:
            self.post_message(self.DetailRead(row.entry, lines))

    def on_menu_view_detail_read(self, message: DetailRead) -> None:
        row, detail = self.entries.row, self.query_one("#detail", LineList)
        if row is not None and row.entry is message.entry and detail.lines != tuple(message.lines):
            detail.show(message.lines, cursor=0)

    @work(thread=True, exclusive=True, group="detail", exit_on_error=False)
    def _read_picture(self, desk: Desk, menu: Menu, entry: Entry, number: int) -> None:
        from workbench.tui.entry_pictures import SeenPicture, SeenPictures, see_pictures

        worker = get_current_worker()
        room = self.query_one(PicturePane).room
        try:
            seen = see_pictures(desk, menu, entry, number, room, MOST_PICTURE_BYTES)
        except CardwrightError as error:
            seen = SeenPictures(SeenPicture("", (), f"! {error.message}"))
        if not worker.is_cancelled:
            self.post_message(self.PictureRead(entry, seen))

    def on_menu_view_picture_read(self, message: PictureRead) -> None:
        row = self.entries.row
        if row is None or row.entry is not message.entry:
            return
        self._kinds = message.seen.kinds
        self.query_one(PicturePane).show_blocks(_picture_blocks(message.seen))

    @on(LineList.Chosen, "#detail")
    def _go_to_place(self, message: LineList.Chosen) -> None:
        target = message.line_list.line_at(message.index).target
        if target is not None:
            self.workbench.show_place(*target)

    async def action_entry_view(self) -> None:
        """From what names the entry to its first picture, the next, and back."""
        if self._picture is None:
            await self.look_at_picture(0)
        else:
            await self.look_at_picture(self._picture + 1 if self._picture + 1 < self._kinds else None)

    async def look_at_picture(self, number: int | None) -> None:
        """Show the entry's picture of that number; None: what names the entry."""
        self._picture = number
        if not self.query(PicturePane):
            await self.mount(PicturePane(id="picture", classes="pane"), after="#detail")
        self.query_one("#picture").display = number is not None
        self.query_one("#detail").display = number is None
        self.call_after_refresh(self._show_detail)


def _picture_blocks(seen: SeenPictures) -> list[Block]:
    """The picture; or, where the plan changes it, what it is now and what it will be."""
    after, before = seen.after, seen.before
    if before is None:
        return [Block(Line.of((after.title, "strong")), after.cells, after.sentence)]
    now = Line.of(("on the card now  ", "strong"), (before.title, "muted"))
    then = Line.of(("* after the plan  ", "waiting"), (after.title, "muted"))
    return [Block(now, before.cells, before.sentence), Block(then, after.cells, after.sentence)]

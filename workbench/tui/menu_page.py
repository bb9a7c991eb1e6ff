"""The main page: the menu as the device lists it, the card, and what names the entry under the cursor."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING, Any

from textual import on, work
from textual.message import Message
from textual.timer import Timer
from textual.widget import Widget
from textual.worker import get_current_worker

from workbench.errors import CardwrightError
from workbench.tui.actions import action_of, bindings_for
from workbench.tui.card_pane import CardPane
from workbench.tui.costs import count_words
from workbench.tui.desk import Desk
from workbench.tui.detail_pane import SILENCE_S, entry_lines, error_lines, found_lines, reference_lines
from workbench.tui.entry_list import EntryList, EntryRow
from workbench.tui.key_footer import Key
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, wrap
from workbench.tui.page import Page
from workbench.tui.picture_pane import EntryPicture, PicturePane
from workbench.tui.wishes import PlaceKind, place_wish, rename_wish
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.card.entry import Entry, Menu
    from workbench.card.paths import VolumePath


_CARRYING = (
    ("app.help", "help"),
    ("list.up", "up"),
    ("list.down", "down"),
    ("entry.take", "place it here"),
    ("page.back", "put back"),
)
"""The footer while an entry is taken."""


MOST_SEARCHED = 300
"""Menus longer than this are indexed in one go; searching the card for each entry would take too long."""

MOST_PICTURE_BYTES = 6000
"""What a picture beside the menu may cost on the line to the terminal; it is made smaller until it does."""


class MenuPage(Page):
    """Lists a menu; every wish for an entry starts here."""

    where = "menu"
    BINDINGS = bindings_for("menu")
    AUTO_FOCUS = "#entries"

    class MenusRead(Message):
        """The menus were read, with or without labels."""

        def __init__(self, desk: Desk, menus: Sequence[Menu], has_labels: bool) -> None:
            super().__init__()
            self.desk, self.menus, self.has_labels = desk, menus, has_labels

    class MenusFailed(Message):
        """The menus could not be read."""

        def __init__(self, error: CardwrightError) -> None:
            super().__init__()
            self.error = error

    class Indexed(Message):
        """What names the entries of a long menu is known."""

    class DetailRead(Message):
        """What names an entry was found, or why that failed."""

        def __init__(self, entry: Any, lines: Sequence[Line]) -> None:
            super().__init__()
            self.entry, self.lines = entry, lines

    class PictureRead(Message):
        """An entry's picture was made ready, or there is none."""

        def __init__(self, entry: Entry, picture: EntryPicture) -> None:
            super().__init__()
            self.entry, self.picture = entry, picture

    def __init__(self, menus: Sequence[Menu] = ()) -> None:
        """`menus`: by name alone, where they were read already, so that the first frame has them."""
        super().__init__()
        self._menus = menus
        self._has_labels = False
        self._menu_id = menus[0].id if menus else ""
        self._silence: Timer | None = None
        self._stay: VolumePath | None = None
        """The entry that the cursor keeps to when the menu is read again, by its place on the card now."""
        self._shows_picture = False

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
            "Start again with the profile of your device: cardwright CARD --profile FILE."
        )
        self.entries.show_rows(())
        self.entries.show((), empty="no device profile fits this card")
        self.query_one("#detail", LineList).show([Line.of(part) for part in wrap(said, 36)])

    @work(thread=True, exclusive=True, group="menus", exit_on_error=False)
    def _read_menus(self, desk: Desk, *, names_first: bool) -> None:
        try:
            if names_first:
                self.post_message(self.MenusRead(desk, desk.read_menus(labels=False), False))
            menus = desk.read_menus(labels=True)
            self.post_message(self.MenusRead(desk, menus, True))
            if any(len(menu.entries) > MOST_SEARCHED for menu in menus):
                desk.index_references()
                self.post_message(self.Indexed())
        except CardwrightError as error:
            self.post_message(self.MenusFailed(error))

    def on_menu_page_menus_read(self, message: MenusRead) -> None:
        if message.desk is not self.desk:
            return
        self._menus, self._has_labels = message.menus, message.has_labels
        if self.menu is None:
            self._menu_id = next((menu.id for menu in self._menus if not menu.is_missing), "")
        self._show_menu()
        self.call_after_refresh(self.workbench.rows_shown, message.desk)

    def on_menu_page_indexed(self) -> None:
        self._show_detail()

    def on_menu_page_menus_failed(self, message: MenusFailed) -> None:
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
        stay = next((n for n, row in enumerate(rows) if row.origin == self._stay), None)
        self.entries.show_rows(rows, stay)
        if not rows:
            missing = "this menu's folder is not on the card"
            self.entries.show((), empty=missing if menu.is_missing else "this menu has no entries")
        self._show_titles(menu)
        self.show_keys()

    def _rows(self) -> list[EntryRow]:
        menu, desk = self.menu, self.desk
        return [_row(entry, menu, desk) for entry in menu.entries] if menu and desk else []

    def _show_titles(self, menu: Menu) -> None:
        ids = [other.id for other in self._menus]
        more = f"  ← {ids.index(menu.id) + 1} of {len(ids)} →" if len(ids) > 1 else ""
        self.entries.set_title(f"{menu.id}{more}: {count_words(len(menu.entries), 'entry', 'entries')}")

    # The cursor and the detail

    @on(LineList.CursorMoved, "#entries")
    def _follow_cursor(self) -> None:
        row = self.entries.row
        if row is not None and not self.entries.is_carrying:
            self._stay = row.origin
        if self._silence is not None:
            self._silence.stop()
        self._silence = self.set_timer(SILENCE_S, self._show_detail)

    def _show_detail(self) -> None:
        row, menu, desk = self.entries.row, self.menu, self.desk
        if row is None or menu is None or desk is None or not self._has_labels:
            return
        if self._shows_picture:
            self._read_picture(desk, menu, row.entry)
        elif len(menu.entries) <= MOST_SEARCHED:
            self._read_detail(desk, menu, row)
        else:
            self._show_indexed(desk, menu, row)

    def _show_indexed(self, desk: Desk, menu: Menu, row: EntryRow) -> None:
        """In a long menu the detail comes from the index, or says that the index is being made."""
        lines = list(entry_lines(row.entry, menu, row.origin.name if row.origin else ""))
        found = desk.indexed_references(row.entry)
        lines += (
            [Line.of(("looking for what names it …", "muted"))] if found is None else reference_lines(found)
        )
        self.query_one("#detail", LineList).show(lines, cursor=0)

    @work(thread=True, exclusive=True, group="detail", exit_on_error=False)
    def _read_detail(self, desk: Desk, menu: Menu, row: EntryRow) -> None:
        worker = get_current_worker()
        width = self.query_one("#detail").size.width - 3
        origin = row.origin.name if row.origin else ""
        lines = list(entry_lines(row.entry, menu, origin))
        try:
            lines += found_lines(desk.find_references(menu, row.entry), width)
        except CardwrightError as error:
            lines += error_lines(error, width)
        if not worker.is_cancelled:
            self.post_message(self.DetailRead(row.entry, lines))

    def on_menu_page_detail_read(self, message: DetailRead) -> None:
        row = self.entries.row
        if row is not None and row.entry is message.entry:
            self.query_one("#detail", LineList).show(message.lines, cursor=0)

    @work(thread=True, exclusive=True, group="detail", exit_on_error=False)
    def _read_picture(self, desk: Desk, menu: Menu, entry: Entry) -> None:
        worker = get_current_worker()
        pane = self.query_one(PicturePane)
        try:
            seen = desk.read_entry_picture(menu, entry, pane.room, MOST_PICTURE_BYTES)
        except CardwrightError as error:
            seen = EntryPicture("", (), error.message)
        if not worker.is_cancelled:
            self.post_message(self.PictureRead(entry, seen))

    def on_menu_page_picture_read(self, message: PictureRead) -> None:
        row = self.entries.row
        if row is not None and row.entry is message.entry:
            seen = message.picture
            caption = Line.of((message.entry.name, "strong"), (f"  {seen.title}", "muted"))
            self.query_one(PicturePane).show(caption, seen.cells, seen.sentence)

    @on(LineList.Chosen, "#detail")
    def _go_to_place(self, message: LineList.Chosen) -> None:
        target = message.line_list.line_at(message.index).target
        if target is not None:
            self.workbench.show_place(*target)

    async def action_entry_view(self) -> None:
        self._shows_picture = not self._shows_picture
        if not self.query(PicturePane):
            await self.mount(PicturePane(id="picture", classes="pane"), after="#detail")
        self.query_one("#picture").display = self._shows_picture
        self.query_one("#detail").display = not self._shows_picture
        self.call_after_refresh(self._show_detail)

    # Wishes

    def can_do(self, action_id: str) -> bool:
        if action_id.startswith("entry."):
            return self.entries.row is not None
        if action_id.startswith("menu."):
            return len(self._menus) > 1
        return super().can_do(action_id)

    def footer_keys(self) -> list[Key]:
        if not self.entries.is_carrying:
            return super().footer_keys()
        return [(replace(action_of(action_id), word=word), True) for action_id, word in _CARRYING]

    @on(EntryList.TakenChanged)
    def _show_taken(self) -> None:
        self.show_keys()

    def action_entry_take(self) -> None:
        self.entries.toggle_take()

    def step_back(self) -> bool:
        was_carrying = self.entries.is_carrying
        self.entries.put_back()
        return was_carrying

    @on(EntryList.PlaceRequested)
    def _place(self, message: EntryList.PlaceRequested) -> None:
        self._wish_place(message.entry, message.spot, message.neighbour)

    def action_entry_first(self) -> None:
        self._wish_place_here("first")

    def action_entry_last(self) -> None:
        self._wish_place_here("last")

    def action_entry_strip(self) -> None:
        self._wish_place_here("strip")

    def _wish_place_here(self, kind: PlaceKind) -> None:
        row = self.entries.row
        if row is not None:
            self._wish_place(row.entry, kind, None)

    def _wish_place(self, entry: Any, kind: PlaceKind, neighbour: Any) -> None:
        if self.menu is not None:
            self.workbench.wish(place_wish(self.menu, entry, kind, neighbour))

    def action_entry_rename(self) -> None:
        row, menu = self.entries.row, self.menu
        if row is None or menu is None:
            return
        from workbench.tui.name_dialog import NameDialog

        self.app.push_screen(NameDialog(row.entry.name), partial(self._wish_rename, menu, row.entry))

    def _wish_rename(self, menu: Menu, entry: Any, name: str | None) -> None:
        if name and name != entry.name:
            self.workbench.wish(rename_wish(menu, entry, name))

    def action_menu_next(self) -> None:
        self._turn_menu(1)

    def action_menu_previous(self) -> None:
        self._turn_menu(-1)

    def _turn_menu(self, by: int) -> None:
        ids = [menu.id for menu in self._menus]
        self.entries.put_back()
        self._menu_id = ids[(ids.index(self._menu_id) + by) % len(ids)]
        self._stay = None
        self.entries.move_cursor(0)
        self._show_menu()

    def action_entry_find(self) -> None:
        from workbench.tui.find_dialog import FindDialog

        texts = [row.line.text for row in self.entries.rows]
        self.app.push_screen(FindDialog(texts, self.entries.cursor), self._go_to)

    def _go_to(self, index: int | None) -> None:
        if index is not None:
            self.entries.move_cursor(index)


def _row(entry: Entry, menu: Menu, desk: Desk) -> EntryRow:
    label = entry.label if entry.has_label else ""
    if not label and entry.prefix and not menu.rule.prefix.shown:
        label = entry.name.removeprefix(entry.prefix)
    if not desk.waiting:
        return EntryRow(entry.name, label, "", entry.at, entry)
    origin = desk.outcome.origin(entry.at)
    waiting = ""
    if entry.at in desk.outcome.new:
        waiting = "new"
    elif origin != entry.at:
        rest = entry.name.removeprefix(entry.prefix)
        waiting = "moved" if origin.name.endswith(rest) else "renamed"
    return EntryRow(entry.name, label, waiting, origin, entry)

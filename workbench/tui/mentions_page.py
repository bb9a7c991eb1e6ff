"""Places that name an entry under no rule of the profile. They are listed for the person, never changed."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

from textual import work
from textual.widget import Widget
from textual.worker import get_current_worker

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.costs import count_words
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.page import Page

if TYPE_CHECKING:
    from workbench.card.mention import Mention
    from workbench.tui.desk import Desk


def mention_line(mention: Mention, entry_name: str) -> Line:
    """`data:notes.txt, line 4   the text there`."""
    where = f", line {mention.line}" if mention.line else f", byte {mention.offset}"
    return Line.of(
        (str(mention.at), "place"),
        (where, "muted"),
        f"   {mention.text.strip()}",
        right=[(entry_name, "muted")],
    )


class MentionsPage(Page):
    """Mentions of the entry under the menu's cursor, or of every entry of that menu."""

    where = "mentions"
    BINDINGS = bindings_for("mentions")
    CSS_PATH = find_assets("styles") / "pages.tcss"
    AUTO_FOCUS = "#mentions"

    def __init__(self) -> None:
        super().__init__()
        self._found: list[tuple[Mention, str]] = []
        self._whole_menu = False

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="mentions", empty="looking …")

    def show_desk(self) -> None:
        desk, menu_page = self.desk, self.workbench.menu_page
        menu, row = menu_page.menu, menu_page.entries.row
        shown = self.query_one("#mentions", LineList)
        if desk is None or menu is None or row is None:
            shown.show((), empty="there is no entry under the menu's cursor")
            return
        rows = menu_page.entries.rows if self._whole_menu else [row]
        self._found = []
        name = f"the menu {menu.id}" if self._whole_menu else row.name
        shown.set_title(f"Mentions of {name} under no rule")
        shown.show((), empty="looking …")
        self._look(desk, menu, [(one.entry, one.origin) for one in rows], name)

    @work(exclusive=True, group="mentions", exit_on_error=False)
    async def _look(self, desk: Desk, menu: Any, entries: Sequence[Any], name: str) -> None:
        worker = get_current_worker()
        shown = self.query_one("#mentions", LineList)
        for number, (entry, origin) in enumerate(entries, 1):
            try:
                found = await asyncio.to_thread(desk.find_mentions, menu, entry, origin)
            except CardwrightError as error:
                self.workbench.say_error(error)
                continue
            if worker.is_cancelled:
                return
            self._found += [(mention, entry.name) for mention in found]
            if found or number == len(entries):
                lines = [mention_line(mention, owner) for mention, owner in self._found]
                shown.show(lines, empty="no place names it but those that the profile's rules cover")
        if self._found:
            said = count_words(len(self._found), "mention", "mentions")
            shown.set_title(f"{said} of {name} under no rule: left alone; enter shows one in its file")

    def action_mention_all(self) -> None:
        self._whole_menu = not self._whole_menu
        self.show_desk()

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.index >= len(self._found):
            return
        mention = self._found[message.index][0]
        if mention.line is None:
            self.workbench.say("That file is no text; it cannot be shown here.")
            return
        self.workbench.show_place(mention.at, mention.line)

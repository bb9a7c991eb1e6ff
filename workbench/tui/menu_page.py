"""The main page: every wish for an entry or a menu starts here."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from textual import on, work

from workbench.tui.actions import action_of, bindings_for
from workbench.tui.arranging import Arranging, Prefixing
from workbench.tui.entry_list import EntryList, Wanted
from workbench.tui.key_footer import Key
from workbench.tui.menu_view import MenuView
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.tui.entry_row import EntryRow
    from workbench.tui.entry_wishes import PlanMenu, PlanOne
    from workbench.tui.fit_dialog import Fitting

_CARRYING = (
    ("app.help", "", "help"),
    ("list.up", "↑ ↓", "move"),
    ("entry.first", "", "first"),
    ("entry.last", "", "last"),
    ("entry.take", "", "place it here"),
    ("page.back", "", "put back"),
)
"""The footer while entries are taken: action, keys where not its own, word."""

_MARKED = (
    ("app.help", "", "help"),
    ("entry.take", "", "take them"),
    ("entry.first", "", "first"),
    ("entry.last", "", "last"),
    ("entry.before", "", "before this"),
    ("page.back", "", "unmark"),
)
"""The footer while entries are marked."""


class MenuPage(MenuView):
    """Takes orders for the menu."""

    BINDINGS = bindings_for("menu")

    fitting: Fitting | None = None
    """How the last picture was put."""

    def can_do(self, action_id: str) -> bool:
        if action_id in ("entry.add", "entry.show"):
            return self.menu is not None and not self.menu.is_missing
        if action_id in ("entry.before", "entry.after"):
            return bool(self.entries.marked) and not self.entries.is_carrying
        if action_id.startswith("entry.") or action_id in ("menu.sort", "menu.reverse", "menu.number"):
            return self.entries.row is not None
        if action_id in ("menu.strip", "menu.prefixes"):
            return self.menu is not None and self.menu.order != "directory"
        if action_id.startswith("menu."):
            return len(self._menus) > 1
        return super().can_do(action_id)

    def footer_keys(self) -> list[Key]:
        hand = _CARRYING if self.entries.is_carrying else _MARKED if self.entries.marked else ()
        if not hand:
            return super().footer_keys()
        return [_footer_key(action_id, keys, word) for action_id, keys, word in hand]

    # Taking, marking and moving

    @on(EntryList.HandChanged)
    def _show_hand(self, message: EntryList.HandChanged) -> None:
        if message.came_to_nothing:
            self.workbench.stop_trying()
            self.show_frame()
        self.show_keys()

    @on(EntryList.OrderWanted)
    def _want_order(self, message: EntryList.OrderWanted) -> None:
        self._arrange(message.wanted)

    @on(EntryList.Carried)
    def _try_order(self, message: EntryList.Carried) -> None:
        if self.entries.is_carrying:
            self.workbench.try_order(self._arranging_with(message.wanted))

    def _arrange(self, wanted: Wanted) -> None:
        self._stay = self.entries.row.identity if self.entries.row else None
        self.workbench.arrange(self._arranging_with(wanted))

    def _arranging_with(self, wanted: Wanted) -> Arranging:
        """The moves so far and this one."""
        live, prefixing = self.workbench.live, self.prefixing
        if live is None or live.menu_id != self._menu_id or live.prefixing != prefixing:
            live = Arranging.begin(self._menu_id, wanted.before, prefixing)
        return live.moved(wanted.title, wanted.keys, wanted.carried)

    def show_order(self, arranging: Arranging) -> None:
        """Show the order that is wanted now."""
        if arranging.menu_id == self._menu_id:
            self.entries.show_order(arranging.keys)

    def put_back(self) -> bool:
        """Put what is carried back; whether anything was."""
        return self.entries.put_back()

    def place(self) -> None:
        """Place what is carried where it is."""
        wanted = self.entries.place()
        if wanted is not None:
            self._arrange(wanted)

    def step_back(self) -> bool:
        if self.put_back():
            return True
        if self.workbench.notice is not None:
            self.workbench.unsay()
            return True
        return self.entries.unmark_all()

    def action_entry_take(self) -> None:
        self.entries.toggle_take()

    def action_entry_mark(self) -> None:
        self.entries.toggle_mark()

    def action_entry_mark_range(self) -> None:
        self.entries.mark_range()

    def action_entry_first(self) -> None:
        self._move(lambda: self.entries.send("first"))

    def action_entry_last(self) -> None:
        self._move(lambda: self.entries.send("last"))

    def action_entry_before(self) -> None:
        self._move(lambda: self.entries.place_beside("before"))

    def action_entry_after(self) -> None:
        self._move(lambda: self.entries.place_beside("after"))

    def action_menu_sort(self) -> None:
        self._move(self.entries.sort)

    def action_menu_reverse(self) -> None:
        self._move(self.entries.reverse)

    def _move(self, move: Callable[[], bool]) -> None:
        if self.entries.row is None or move():
            return
        is_on_marked = self.entries.row.identity in self.entries.marked
        beside = " Put the cursor on an entry that is not marked." if is_on_marked else ""
        self.workbench.say(f"That changes nothing: it is so already.{beside}")

    # Prefixes

    @property
    def prefixing(self) -> Prefixing:
        """How prefixes are made in this menu."""
        return self.workbench.prefixings.get(self._menu_id, Prefixing())

    def action_menu_prefixes(self) -> None:
        if self.menu is not None and self.entries.row is not None:
            from workbench.tui.prefix_dialog import PrefixDialog

            row = self.entries.row
            bare = row.name.removeprefix(row.entry.prefix)
            dialog = PrefixDialog(self.menu.rule.prefix, self.menu.order, self.prefixing, bare)
            self.app.push_screen(dialog, self._take_prefixing)

    def _take_prefixing(self, prefixing: Prefixing | None) -> None:
        if prefixing is None or prefixing == self.prefixing:
            return
        self.workbench.prefixings[self._menu_id] = prefixing
        live = self.workbench.live
        if live is not None and live.moves and live.menu_id == self._menu_id:
            self.workbench.arrange(replace(live, prefixing=prefixing))

    def action_menu_number(self) -> None:
        from workbench.tui.entry_wishes import number_with

        self.wish_for_menu(number_with(self.prefixing.separator))

    def action_menu_strip(self) -> None:
        from workbench.tui.entry_wishes import strip_all

        self.wish_for_menu(strip_all)

    def action_entry_strip(self) -> None:
        from workbench.tui.entry_wishes import strip

        self.wish_for(strip, "Strip the prefixes of {} entries")

    # Wishes

    def wish_for(self, plan_one: PlanOne, title: str = "", rows: Sequence[EntryRow] | None = None) -> None:
        """Wish the same for the marked entries, or for the one under the cursor."""
        from workbench.tui.entry_wishes import EntryWish

        self.place()
        chosen = self.entries.chosen if rows is None else rows
        if chosen:
            keys = tuple(row.identity for row in chosen)
            self.workbench.wish(EntryWish(self._menu_id, keys, plan_one, title))
            self.entries.unmark_all()

    def wish_for_menu(self, plan_menu: PlanMenu) -> None:
        from workbench.tui.entry_wishes import MenuWish

        self.place()
        if self.menu is not None:
            self.workbench.wish(MenuWish(self._menu_id, plan_menu))

    def action_entry_rename(self) -> None:
        self._ask("rename")

    def action_entry_label(self) -> None:
        self._ask("label")

    def action_entry_picture(self) -> None:
        self._ask("picture")

    def action_entry_copy(self) -> None:
        self._ask("copy")

    def action_entry_add(self) -> None:
        self._ask("add")

    def action_entry_show(self) -> None:
        self._ask("hidden")

    def _ask(self, what: str) -> None:
        self.place()
        self._ask_in_turn(what)

    @work(exclusive=True, group="ask", exit_on_error=False)
    async def _ask_in_turn(self, what: str) -> None:
        from workbench.tui.entry_questions import QUESTIONS

        await QUESTIONS[what](self)

    def action_entry_hide(self) -> None:
        from workbench.tui.entry_wishes import hide

        self.wish_for(hide, "Hide {} entries")

    def action_entry_remove(self) -> None:
        from workbench.tui.entry_wishes import remove

        self.wish_for(remove, "Remove {} entries")

    # Going about

    def action_menu_next(self) -> None:
        self._turn_menu(1)

    def action_menu_previous(self) -> None:
        self._turn_menu(-1)

    def _turn_menu(self, by: int) -> None:
        ids = [menu.id for menu in self._menus]
        self.put_back()
        self.entries.unmark_all()
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


def _footer_key(action_id: str, keys: str, word: str) -> Key:
    action = action_of(action_id)
    return replace(action, keys=keys or action.keys, word=word), True

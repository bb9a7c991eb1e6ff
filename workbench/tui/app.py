"""The workbench: holds the desk, carries wishes to jobs and plans to `apply`, and shows pages.

Invariant: state changes only in this app's message handlers, in its own thread. Workers read, plan or
apply, and end in a message. Wishes are planned one after the other, each on the plan that the one before
left, so that none is lost.
"""

from __future__ import annotations

import asyncio
import gc
import os
import sys
from collections import deque
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, ClassVar, cast

from textual import work
from textual.app import App
from textual.message import Message
from textual.screen import Screen
from textual.worker import Worker, WorkerState

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.shown import shown
from workbench.tui.actions import action_of, bindings_for, find_clashes
from workbench.tui.costs import count_words
from workbench.tui.desk import Desk, Wish
from workbench.tui.menu_page import MenuPage
from workbench.tui.page import Page
from workbench.tui.themes import DARK, TERMINAL, THEMES
from workbench.tui.tones import FALLBACKS
from workbench.tui.waiting import Waiting

if TYPE_CHECKING:
    from textual.command import Provider

    from workbench.card.menu import Menu
    from workbench.card.paths import VolumePath
    from workbench.card.profile import Profile
    from workbench.card.volumes import Card
    from workbench.card.watch import CardWatch
    from workbench.changes.plan import Conflict, Plan
    from workbench.tui.manifests_page import ManifestsPage


LOOK_EVERY_S = 1.0
"""How often it is looked whether a card came or went."""


class CardsChanged(Message):
    """A card or volume came or went."""

    def __init__(self, missing: Sequence[str]) -> None:
        super().__init__()
        self.missing = missing
        """Roles of the open card's volumes that are gone."""


class WishPlanned(Message):
    """A wish was planned; it joins the waiting plan, or takes the place of its last wish."""

    def __init__(self, desk: Desk, plan: Plan, base: Waiting) -> None:
        super().__init__()
        self.desk, self.plan, self.base = desk, plan, base


class WishRefused(Message):
    """A wish could not be planned; nothing changed."""

    def __init__(self, error: CardwrightError) -> None:
        super().__init__()
        self.error = error


def find_provider() -> type[Provider]:
    """The palette's provider, imported when the palette is first opened."""
    from workbench.tui.palette import ActionProvider

    return ActionProvider


def make_page(name: str) -> Page:
    """A page by its place's name; each is imported when it is first opened."""
    module = import_module(f"workbench.tui.{name}_page")
    page: Page = getattr(module, f"{name.capitalize()}Page")()
    return page


class Workbench(App[int]):
    """The app."""

    TITLE = "Cardwright"
    BINDINGS = bindings_for("app")
    COMMANDS: ClassVar = {find_provider}
    ANIMATION_LEVEL: ClassVar = "none"

    def __init__(self, desk: Desk | None = None, profiles: Sequence[Profile] = ()) -> None:
        styles = find_assets("styles")
        # no-color.org: set and not empty, whatever its value. Textual takes an empty one for set, too.
        no_color = bool(os.environ.get("NO_COLOR"))
        if not no_color:
            os.environ.pop("NO_COLOR", None)
        super().__init__(
            css_path=[styles / "base.tcss", styles / "menu.tcss"], ansi_color=True if no_color else None
        )
        self.desk = desk
        self.profiles = profiles
        self.menu_page = MenuPage(_read_names(desk) if desk else ())
        self.is_planning = False
        self.is_writing = False
        self._wishes: deque[tuple[Wish, bool]] = deque()
        self._begun: Desk | None = None
        self._watch: CardWatch | None = None
        self._was_missing = False
        for theme in THEMES:
            self.register_theme(theme)
        # Set without its watcher: the first frame is made in this theme and need not be made twice.
        self.set_reactive(App.theme, (TERMINAL if no_color else DARK).name)
        self.stylesheet.set_variables(self.get_css_variables())
        self.animation_level = "none"

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FALLBACKS

    def get_default_screen(self) -> Screen[None]:
        return self.menu_page

    def on_mount(self) -> None:
        clashes = find_clashes()
        if clashes:
            raise ValueError("; ".join(clashes))
        self.call_after_refresh(_collect_garbage)
        self.set_interval(LOOK_EVERY_S, self._look_for_cards)
        if self.desk is None:
            self.call_after_refresh(self.action_show_page, "cards")

    @property
    def page(self) -> Page | None:
        """The page that lies under any dialog."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, Page)), None)

    # The card

    def open_card(self, card: Card) -> None:
        """Work on this card; the plan that waits for the other one stays where it is kept."""
        if card.profile is not None and not card.profile.trusted:
            self._ask_trust(card)
        else:
            self._take_card(card)

    @work(exclusive=True, group="begin", exit_on_error=False)
    async def _ask_trust(self, card: Card) -> None:
        from workbench.tui.opening import ask_trust

        trusted = await ask_trust(self, card)
        if trusted is not None:
            self._take_card(trusted)

    def _take_card(self, card: Card) -> None:
        self.desk = Desk(card)
        self._begun = None
        self._watch = None
        self._wishes.clear()
        self.menu_page.forget()
        self.action_show_page("menu")

    # Cards that come and go

    @work(thread=True, exclusive=True, group="watch", exit_on_error=False)
    def _look_for_cards(self) -> None:
        """Asked every second, in a thread: reads two short tables of the system, never the card itself."""
        from workbench.card.watch import CardWatch

        desk = self.desk
        if self._watch is None:
            self._watch = CardWatch([volume.root for volume in desk.card.present] if desk else [])
        elif self._watch.changed():
            self.post_message(CardsChanged(desk.missing() if desk else ()))

    def on_cards_changed(self, message: CardsChanged) -> None:
        from workbench.tui.cards_page import CardsPage

        if isinstance(self.page, CardsPage):
            self.page.find()
        elif message.missing:
            self.say(f"! The card's volume {', '.join(message.missing)} is no longer there.", "error")
        elif self.desk is not None and self._was_missing:
            self.show_card_anew()
        else:
            self.say("A card came or went; 6 shows the cards.")
        self._was_missing = bool(message.missing)

    def rows_shown(self, desk: Desk) -> None:
        """The first rows of a card can be read: now there is time for what may have to be asked."""
        if self._begun is not desk:
            self._begun = desk
            self._begin(desk)

    @work(exclusive=True, group="begin", exit_on_error=False)
    async def _begin(self, desk: Desk) -> None:
        from workbench.tui.opening import begin

        await begin(self, desk)

    @work(exclusive=True, group="begin", exit_on_error=False)
    async def offer_recovery(self, desk: Desk) -> None:
        """Ask what becomes of an unfinished change."""
        from workbench.tui.opening import offer_recovery

        await offer_recovery(self, desk)

    def show_card_anew(self) -> None:
        """The card was written to: read it again."""
        if self.desk is not None:
            self.desk.look_again()
            self.show_desk()

    # Wishes

    def wish(self, wish: Wish) -> None:
        """Plan a wish, after those that are being planned."""
        self._wishes.append((wish, False))
        self._plan_next()

    def replace_last_wish(self, wish: Wish) -> None:
        """Plan a wish in place of the last one that waits."""
        self._wishes.append((wish, True))
        self._plan_next()

    def _plan_next(self) -> None:
        if self.is_planning or not self._wishes or self.desk is None:
            return
        wish, replaces = self._wishes.popleft()
        base = self.desk.waiting.without_last() if replaces else self.desk.waiting
        self.is_planning = True
        self._plan(self.desk, wish, base)
        self.show_frame()

    @work(thread=True, group="plan", exit_on_error=False)
    def _plan(self, desk: Desk, wish: Wish, base: Waiting) -> None:
        try:
            self.post_message(WishPlanned(desk, desk.plan(wish, base), base))
        except CardwrightError as error:
            self.post_message(WishRefused(error))

    def on_wish_planned(self, message: WishPlanned) -> None:
        self.is_planning = False
        if message.desk is self.desk:
            self._take_plan(message.desk, message.plan, message.base)
        self._plan_next()

    def _take_plan(self, desk: Desk, plan: Plan, base: Waiting) -> None:
        if plan.conflicts:
            self._wishes.clear()
            self._say_conflicts(plan)
        elif plan.steps:
            self.set_waiting(desk, base.grown(plan))
        else:
            self.say(" ".join(plan.notes) or "Nothing needs to change.")
            self._wish_failed()

    def _say_conflicts(self, plan: Plan) -> None:
        from workbench.tui.conflict_dialog import ConflictDialog

        self._wish_failed()
        self.push_screen(ConflictDialog(plan), self._show_conflict)

    def _show_conflict(self, conflict: Conflict | None) -> None:
        if conflict is not None:
            self.show_place(conflict.at, conflict.line)

    def on_wish_refused(self, message: WishRefused) -> None:
        self.is_planning = False
        self._wishes.clear()
        self.say_error(message.error)
        self._wish_failed()

    def _wish_failed(self) -> None:
        """Nothing joined the waiting plan: what is shown goes back to what it leaves."""
        self.show_frame()
        self.menu_page.show_as_planned()

    def set_waiting(self, desk: Desk, waiting: Waiting) -> None:
        """Another waiting plan: show it, and keep it for the case that the workbench is left."""
        desk.waiting = waiting
        self.show_desk()
        self.keep_waiting(desk)

    @work(exclusive=True, group="keep", exit_on_error=False)
    async def keep_waiting(self, desk: Desk) -> None:
        """Save the waiting plan in the user's state folder."""
        try:
            await asyncio.to_thread(desk.keep_waiting)
        except CardwrightError as error:
            self.say_error(error)

    def show_desk(self) -> None:
        """The waiting plan or the card changed: the open page shows it (others when they are opened)."""
        self.show_frame()
        if self.page is not None:
            self.page.show_desk()

    def show_frame(self) -> None:
        """Title, waiting plan and keys of the open page."""
        if self.page is not None and self.page.is_mounted:
            self.page.show_frame()

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A worker that failed for a reason that nobody foresaw: say so, and stay up."""
        if event.state is not WorkerState.ERROR:
            return
        self.is_planning = False
        self._wishes.clear()
        error = event.worker.error
        self.log.error("worker failed", error)
        self.say(f"! This failed in a way that was not foreseen ({type(error).__name__}: {error}).", "error")

    # Telling

    def say(self, text: str, severity: str = "information") -> None:
        """Tell something in a corner; text from a card is shown, not obeyed."""
        self.notify(shown(text), severity=severity, timeout=8, markup=False)  # type: ignore[arg-type]

    def say_error(self, error: CardwrightError) -> None:
        """Tell what was refused, and where."""
        where = ""
        if error.path and error.path not in error.message:
            where = error.path + (f", line {error.line}" if error.line else "") + ": "
        suggestion = getattr(error, "suggestion", None)
        also = (
            f" A name that would do: {suggestion}" if suggestion and suggestion not in error.message else ""
        )
        self.say(f"! {where}{error.message}{also}", "error")

    # Pages

    def action_show_page(self, name: str) -> None:
        """Open a page over the menu, which is always the lowest."""
        page = self.page
        if page is None or page.where == name or len(self.screen_stack) > 2:
            return
        if name != "menu" and not self.is_screen_installed(name):
            self.install_screen(make_page(name), name)
        if len(self.screen_stack) == 2:
            self.pop_screen()
        if name != "menu":
            self.push_screen(name)

    def show_place(self, at: VolumePath, line: int | None) -> None:
        """Open a file of the card at a line, as text, on the page of the manifests."""
        self.action_show_page("manifests")
        cast("ManifestsPage", self.page).show_place(at, line)

    def action_page_back(self) -> None:
        if self.page is not None and not self.page.step_back():
            self.action_show_page("menu")

    def action_app_help(self) -> None:
        if self.page is not None:
            from workbench.tui.help_dialog import HelpDialog

            self.push_screen(HelpDialog(self.page.where))

    async def run_by_id(self, action_id: str) -> None:
        """Do what an action does, as if its key had been pressed on the open page."""
        action, page = action_of(action_id), self.page
        can = page.can_do(action_id) if page is not None else self.can_do(action_id)
        if can:
            await self.run_action(action.action, page if action.where != "app" else self)
        else:
            self.say(f"“{action.word}” cannot be done now.")

    def action_app_theme(self) -> None:
        names = [theme.name for theme in THEMES]
        self.theme = names[(names.index(self.theme) + 1) % len(names)] if self.theme in names else names[0]

    # Actions

    def can_do(self, action_id: str) -> bool:
        """Whether an action of the whole workbench makes sense now."""
        if action_id.startswith("plan."):
            return self.desk is not None and bool(self.desk.waiting)
        return True

    def action_plan_drop_last(self) -> None:
        if self.desk is not None and self.desk.waiting:
            self.set_waiting(self.desk, self.desk.waiting.without_last())

    def action_plan_drop_all(self) -> None:
        if self.desk is None or not self.desk.waiting:
            return
        from workbench.tui.dialog import Question

        count = count_words(len(self.desk.waiting.wishes), "wish", "wishes")
        self.push_screen(
            Question(
                "Drop the waiting plan?",
                f"{count} would be forgotten. The card stays as it is.",
                {"d": ("drop", "drop it")},
            ),
            partial(self._drop_all, self.desk),
        )

    def _drop_all(self, desk: Desk, answer: str | None) -> None:
        if answer == "drop":
            self.set_waiting(desk, Waiting())

    def action_plan_write(self) -> None:
        if self.desk is not None and self.desk.waiting and not self.is_planning:
            self._write()

    @work(exclusive=True, group="write", exit_on_error=False)
    async def _write(self) -> None:
        from workbench.tui.writing import write_waiting

        await write_waiting(self)

    async def action_quit(self) -> None:
        """Leave; with a plan that waits, ask."""
        if self.is_writing:
            self.say("The plan is being written to the card; it will be finished first.")
        elif self.desk is None or not self.desk.waiting:
            self.exit(0)
        else:
            self._ask_leave(self.desk)

    def _ask_leave(self, desk: Desk) -> None:
        from workbench.tui.leave_dialog import LeaveDialog

        if not isinstance(self.screen, LeaveDialog):
            self.push_screen(LeaveDialog(len(desk.waiting.wishes)), partial(self._leave, desk))

    def action_help_quit(self) -> None:
        """Ctrl+C leaves like q."""
        self.call_later(self.action_quit)

    def _leave(self, desk: Desk, answer: str | None) -> None:
        if answer == "leave":
            self.exit(0)
        elif answer == "drop":
            self._leave_without(desk)
        elif answer == "write":
            self._write()

    @work(exclusive=True, group="keep", exit_on_error=False)
    async def _leave_without(self, desk: Desk) -> None:
        desk.waiting = Waiting()
        try:
            await asyncio.to_thread(desk.keep_waiting)
        finally:
            self.exit(0)


def _collect_garbage() -> None:
    """Turn the collector on, past everything that the start made: that stays, and need not be searched."""
    gc.freeze()
    gc.enable()


def _read_names(desk: Desk) -> Sequence[Menu]:
    """The menus by name; nothing where that fails (the page reads again, and says why)."""
    if desk.profile is None:
        return ()
    try:
        return desk.read_menus(labels=False)
    except CardwrightError:
        return ()


def run_workbench(card: Card | None, profiles: Sequence[Profile] = (), profile: Profile | None = None) -> int:
    """Open the workbench; returns the exit code.

    Args:
        card: the card to work on; None to choose one.
        profiles: the known device profiles, for cards that are opened later.
        profile: the profile to use for `card`, where it is not the card's own.
    """
    # Workers read and parse while keys have to be answered: let go of the interpreter more often.
    sys.setswitchinterval(0.001)
    desk = Desk(card, profile) if card is not None else None
    return Workbench(desk, profiles).run() or 0

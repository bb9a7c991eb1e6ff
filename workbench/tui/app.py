"""The workbench: the app itself, its pages and what its keys do everywhere.

Invariant: state changes only in message handlers and in the app's own tasks, in its own thread. Threads
read, plan or apply, and end in a message or in the task that waits for them.
"""

from __future__ import annotations

import asyncio
import gc
import os
import sys
from collections.abc import Sequence
from functools import partial
from importlib import import_module
from typing import TYPE_CHECKING, ClassVar, cast

from textual import work
from textual.app import App
from textual.screen import Screen

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import action_of, bindings_for, find_clashes
from workbench.tui.card_keeping import LOOK_EVERY_S, CardKeeper
from workbench.tui.desk import Desk
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
    from workbench.tui.manifests_page import ManifestsPage
    from workbench.tui.survey_page import SurveyPage


def find_provider() -> type[Provider]:
    """The palette's provider, imported when the palette is first opened."""
    from workbench.tui.palette import ActionProvider

    return ActionProvider


def make_page(name: str) -> Page:
    """A page by its place's name; each is imported when it is first opened."""
    module = import_module(f"workbench.tui.{name}_page")
    page: Page = getattr(module, f"{name.capitalize()}Page")()
    return page


class Workbench(CardKeeper):
    """The app."""

    TITLE = "Cardwright"
    BINDINGS = bindings_for("app")
    COMMANDS: ClassVar = {find_provider}
    CSS_PATH = [find_assets("styles") / "base.tcss", find_assets("styles") / "menu.tcss"]  # noqa: RUF012 - as Textual has it

    def __init__(self, desk: Desk | None = None, profiles: Sequence[Profile] = ()) -> None:
        # no-color.org: set and not empty, whatever its value. Textual takes an empty one for set, too.
        no_color = bool(os.environ.get("NO_COLOR"))
        if not no_color:
            os.environ.pop("NO_COLOR", None)
        super().__init__(ansi_color=True if no_color else None)
        self.desk = desk
        self.profiles = profiles
        self.menu_page = MenuPage(_read_names(desk) if desk else ())
        self._take_theme(no_color)

    def _take_theme(self, no_color: bool) -> None:
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
        elif self.desk.profile is None:
            self.call_after_refresh(self.action_show_page, "survey")

    # Pages

    def action_show_page(self, name: str) -> None:
        """Open a page over the menu, which is always the lowest."""
        page = self.page
        if page is None or page.where == name or len(self.screen_stack) > 2:
            return
        if page is self.menu_page:
            self.menu_page.place()
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

    # What the keys do

    def can_do(self, action_id: str) -> bool:
        """Whether an action of the whole workbench makes sense now."""
        if action_id.startswith("plan."):
            return self.has_wishes
        return True

    def write(self) -> None:
        self._write()

    @work(exclusive=True, group="write", exit_on_error=False)
    async def _write(self) -> None:
        from workbench.tui.writing import write_waiting

        await write_waiting(self)

    @work(exclusive=True, group="write", exit_on_error=False)
    async def action_card_eject(self) -> None:
        """Let the open card go."""
        from workbench.tui.ejecting import eject

        await eject(self)

    async def action_quit(self) -> None:
        """Leave; with a plan that waits, ask."""
        if self.is_writing:
            self.say("The plan is being written to the card; it will be finished first.")
        elif self._has_unsaved_profile:
            self._ask_profile()
        elif self.desk is None or not self.has_wishes:
            self.exit(0)
        elif self.is_planning:
            self.when_planned(self.action_help_quit)
        else:
            self._ask_leave(self.desk)

    @property
    def _has_unsaved_profile(self) -> bool:
        """Whether a profile was answered for or edited, and not saved."""
        if not self.is_screen_installed("survey"):
            return False
        return cast("SurveyPage", self.get_screen("survey")).has_unsaved

    def _ask_profile(self) -> None:
        from workbench.tui.dialog import Question

        said = "What you answered and corrected on the survey's page is forgotten when you leave."
        answers = {"s": ("stay", "stay"), "d": ("leave", "leave without saving it")}
        if not isinstance(self.screen, Question):
            self.push_screen(Question("The profile is not saved", said, answers), self._leave_profile)

    def _leave_profile(self, answer: str | None) -> None:
        if answer == "leave":
            cast("SurveyPage", self.get_screen("survey")).is_saved = True
            self.call_later(self.action_quit)

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
            self._write_and_leave(desk)

    @work(exclusive=True, group="write", exit_on_error=False)
    async def _write_and_leave(self, desk: Desk) -> None:
        from workbench.tui.writing import write_waiting

        await write_waiting(self)
        if not desk.waiting:
            self.exit(0)

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
    bench = Workbench(desk, profiles)
    return bench.run() or bench.return_code or 0

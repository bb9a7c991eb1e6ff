"""The workbench: holds the desk, carries wishes to jobs and plans to `apply`, and shows pages.

Invariant: state changes only in this app's message handlers, in its own thread. Workers read, plan or
apply, and end in a message. Wishes are planned one after the other, each on the plan that the one before
left, so that none is lost.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.app import App
from textual.message import Message
from textual.screen import Screen

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.shown import shown
from workbench.tui.actions import bindings_for, find_clashes
from workbench.tui.desk import Desk, Wish
from workbench.tui.menu_page import MenuPage
from workbench.tui.page import Page
from workbench.tui.themes import THEMES
from workbench.tui.tones import FALLBACKS

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.card.volumes import Card
    from workbench.changes.plan import Plan


class WishPlanned(Message):
    """A wish was planned; it joins the waiting plan."""

    def __init__(self, desk: Desk, plan: Plan) -> None:
        super().__init__()
        self.desk, self.plan = desk, plan


class WishRefused(Message):
    """A wish could not be planned; nothing changed."""

    def __init__(self, error: CardwrightError) -> None:
        super().__init__()
        self.error = error


class Workbench(App[int]):
    """The app."""

    TITLE = "Cardwright"
    BINDINGS = bindings_for("app")
    ENABLE_COMMAND_PALETTE = True
    ANIMATION_LEVEL: ClassVar = "none"

    def __init__(self, desk: Desk | None = None, profiles: Sequence[Profile] = ()) -> None:
        styles = find_assets("styles")
        super().__init__(css_path=[styles / "base.tcss", styles / "menu.tcss"])
        self.desk = desk
        self.profiles = profiles
        self._wishes: deque[Wish] = deque()
        self.is_planning = False
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = THEMES[0].name
        self.animation_level = "none"

    def get_theme_variable_defaults(self) -> dict[str, str]:
        return FALLBACKS

    def get_default_screen(self) -> Screen[None]:
        return MenuPage()

    def on_mount(self) -> None:
        self.check_keys()

    def check_keys(self) -> None:
        """Refuse to start with a key that means two things."""
        clashes = find_clashes()
        if clashes:
            raise ValueError("; ".join(clashes))

    @property
    def page(self) -> Page | None:
        """The page that lies under any dialog."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, Page)), None)

    # Wishes

    def wish(self, wish: Wish) -> None:
        """Plan a wish, after those that are being planned."""
        self._wishes.append(wish)
        self._plan_next()

    def _plan_next(self) -> None:
        if self.is_planning or not self._wishes or self.desk is None:
            return
        self.is_planning = True
        self._plan(self.desk, self._wishes.popleft())
        self._show_frame()

    @work(thread=True, group="plan", exit_on_error=False)
    def _plan(self, desk: Desk, wish: Wish) -> None:
        try:
            self.post_message(WishPlanned(desk, desk.plan(wish)))
        except CardwrightError as error:
            self.post_message(WishRefused(error))

    def on_wish_planned(self, message: WishPlanned) -> None:
        self.is_planning = False
        plan = message.plan
        if message.desk is self.desk and self.desk is not None:
            if plan.steps or plan.conflicts:
                self.desk.waiting = self.desk.waiting.grown(plan)
            else:
                self.say(" ".join(plan.notes) or "Nothing needs to change.")
            self.show_desk()
        self._plan_next()

    def on_wish_refused(self, message: WishRefused) -> None:
        self.is_planning = False
        self._wishes.clear()
        self.say_error(message.error)
        self._show_frame()

    def show_desk(self) -> None:
        """The waiting plan or the card changed: the open page shows it (others when they are opened)."""
        self._show_frame()
        if self.page is not None:
            self.page.show_desk()

    def _show_frame(self) -> None:
        if self.page is not None and self.page.is_mounted:
            self.page.show_frame()

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

    # Actions

    def can_do(self, action_id: str) -> bool:
        """Whether an action of the whole workbench makes sense now."""
        if action_id.startswith("plan."):
            return self.desk is not None and bool(self.desk.waiting)
        return True

    def action_plan_drop_last(self) -> None:
        if self.desk is not None and self.desk.waiting:
            self.desk.waiting = self.desk.waiting.without_last()
            self.show_desk()


def run_workbench(card: Card | None, profiles: Sequence[Profile] = (), profile: Profile | None = None) -> int:
    """Open the workbench; returns the exit code.

    Args:
        card: the card to work on; None to choose one.
        profiles: the known device profiles, for cards that are opened later.
        profile: the profile to use for `card`, where it is not the card's own.
    """
    desk = Desk(card, profile) if card is not None else None
    return Workbench(desk, profiles).run() or 0

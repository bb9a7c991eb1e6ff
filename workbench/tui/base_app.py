"""What every part of the app leans on: the desk, the open page, and telling a person something."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from textual.app import App
from textual.timer import Timer

from workbench.tui.page import Page
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.errors import CardwrightError
    from workbench.tui.desk import Desk
    from workbench.tui.menu_page import MenuPage

Severity = Literal["information", "warning", "error"]

TOLD_S: dict[Severity, float] = {"information": 8.0, "warning": 15.0, "error": 30.0}
"""How long what is told can be read; escape takes it away before."""


@dataclass(frozen=True, slots=True)
class Notice:
    """Something that is told for a while."""

    text: str
    severity: Severity


class BaseApp(App[int]):
    """Holds the desk and knows the open page."""

    desk: Desk | None
    profiles: Sequence[Profile]
    menu_page: MenuPage
    is_writing = False
    notice: Notice | None = None
    _notice_timer: Timer | None = None

    @property
    def page(self) -> Page | None:
        """The page that lies under any dialog."""
        return next((screen for screen in reversed(self.screen_stack) if isinstance(screen, Page)), None)

    def show_desk(self) -> None:
        """The waiting plan or the card changed: the open page shows it (others when they are opened)."""
        self.show_frame()
        if self.page is not None:
            self.page.show_desk()

    def show_frame(self) -> None:
        """Title, waiting plan and keys of the open page."""
        if self.page is not None and self.page.is_mounted:
            self.page.show_frame()

    def say(self, text: str, severity: Severity = "information") -> None:
        """Tell something in a line of its own, above the waiting plan; it covers nothing."""
        if self._notice_timer is not None:
            self._notice_timer.stop()
        self.notice = Notice(text, severity)
        self._notice_timer = self.set_timer(TOLD_S[severity], self.unsay)
        self.show_frame()

    def unsay(self) -> None:
        """What was told has been read."""
        if self.notice is not None:
            self.notice = None
            self.show_frame()

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

"""The cards that are there now. One that comes or goes is noticed within two seconds, without rescanning."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Horizontal
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.card_pane import card_lines
from workbench.tui.line_list import LineList
from workbench.tui.lines import BLANK, Line, Piece, wrap
from workbench.tui.page import Page

if TYPE_CHECKING:
    from workbench.card.health import CardHealth
    from workbench.card.profile import Profile
    from workbench.card.volumes import Card
    from workbench.jobs.health import Share

NO_CARD = (
    "No card is in a reader now. Put one in: it appears here by itself. "
    "A folder with a card's volumes serves too: press o."
)
NO_PROFILE = (
    "No device profile fits this card. Enter surveys it: its layout is found out, and a profile is proposed."
)


def card_line(card: Card) -> Line:
    """`BIGCARD   Larkspur   data, system (absent)`."""
    roles = [f"{role}{'' if volume.present else ' (absent)'}" for role, volume in card.volumes.items()]
    profile: Piece = (card.profile.name, "plain") if card.profile else ("! no device profile", "problem")
    return Line.of((card.name, "strong"), "   ", profile, right=[(", ".join(roles), "muted")])


class CardsPage(Page):
    """Chooses the card to work on."""

    where = "cards"
    BINDINGS = bindings_for("cards")
    CSS_PATH = find_assets("styles") / "pages.tcss"
    AUTO_FOCUS = "#cards"

    def __init__(self) -> None:
        super().__init__()
        self._cards: Sequence[Card] = ()

    def compose_body(self) -> Iterable[Widget]:
        with Horizontal(classes="halves"):
            yield LineList(id="cards", empty="looking for cards …")
            yield LineList(id="card")

    def show_desk(self) -> None:
        self.find()

    @work(exclusive=True, group="cards", exit_on_error=False)
    async def find(self) -> None:
        """Look for cards, and list them."""
        shown = self.query_one("#cards", LineList)
        try:
            self._cards = await asyncio.to_thread(_find_cards, self.workbench.profiles)
        except CardwrightError as error:
            self._cards = ()
            self.workbench.say_error(error)
        shown.set_title("Cards in this computer")
        shown.show([card_line(card) for card in self._cards], empty="no card is in a reader")

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id != "cards":
            return
        pane = self.query_one("#card", LineList)
        width = max(20, pane.size.width - 4)
        lines: list[Line] = []
        card = self._cards[message.index] if self._cards else None
        if card is None:
            lines = [Line.of(part) for part in wrap(NO_CARD, width)]
            card = self.desk.card if self.desk is not None else None
            if card is not None:
                lines += [BLANK, Line.of(("The card that is open:", "muted"))]
        if card is not None:
            profile = card.profile or (self.desk.profile if self.desk and self.desk.card is card else None)
            lines += card_lines(card, profile.name if profile else None, width)
            if profile is None:
                lines += [BLANK, *(Line.of(part) for part in wrap(NO_PROFILE, width))]
            self._look_at_health(card, profile, lines, width)
        pane.show(lines, cursor=0)

    @work(exclusive=True, group="health", exit_on_error=False)
    async def _look_at_health(
        self, card: Card, profile: Profile | None, lines: Sequence[Line], width: int
    ) -> None:
        """Below what the card is: its health and what takes the room, once that was looked at."""
        from workbench.tui.health_lines import health_lines

        try:
            health, shares = await asyncio.to_thread(_read_health, card, profile)
        except CardwrightError as error:
            more = [Line.of((part, "problem")) for part in wrap(f"! {error.message}", width)]
        else:
            more = list(health_lines(health, shares, width))
        self.query_one("#card", LineList).show([*lines, BLANK, *more])

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "cards" and message.index < len(self._cards):
            self.workbench.open_card(self._cards[message.index])

    def action_card_look(self) -> None:
        self.find()

    def action_card_open(self) -> None:
        from workbench.tui.path_dialog import PathDialog

        self.app.push_screen(PathDialog("Open a folder as a card"), self._take_folder)

    def _take_folder(self, text: str | None) -> None:
        if text:
            self._open_folder(text)

    # Not of the group of `find`: that begins anew when the dialog closes, and would end this.
    @work(exclusive=True, group="open", exit_on_error=False)
    async def _open_folder(self, text: str) -> None:
        try:
            card = await asyncio.to_thread(_open_card, text, self.workbench.profiles)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        self.workbench.open_card(card)


def _read_health(card: Card, profile: Profile | None) -> tuple[CardHealth, Sequence[Share]]:
    """What is seen of the volumes and the ledger, and what takes the room. Looks at every file's size."""
    from workbench.card.disk_tree import DiskTree
    from workbench.card.health import read_health
    from workbench.changes.ledger_health import glance_at_ledger
    from workbench.jobs.health import measure_space

    ledger = glance_at_ledger(card)
    health = read_health(card).with_ledger(ledger)
    if profile is None:
        return health, ()
    return health, measure_space(DiskTree(card), profile, health.volumes, ledger.kept_bytes)


def _find_cards(profiles: Sequence[Profile]) -> Sequence[Card]:
    from workbench.card.discovery import find_cards

    return find_cards(profiles)


def _open_card(text: str, profiles: Sequence[Profile]) -> Card:
    from workbench.card.discovery import open_card

    return open_card(str(Path(text).expanduser()), profiles)

"""Which card is worked on: opened, asked what it has to be asked, watched in case that it goes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message

from workbench.tui.arranger import Arranger
from workbench.tui.desk import Desk

if TYPE_CHECKING:
    from workbench.card.volumes import Card
    from workbench.card.watch import CardWatch

LOOK_EVERY_S = 1.0
"""How often it is looked whether a card came or went."""


class CardsChanged(Message):
    """A card or volume came or went."""

    def __init__(self, missing: Sequence[str]) -> None:
        super().__init__()
        self.missing = missing
        """Roles of the open card's volumes that are gone."""


class CardKeeper(Arranger):
    """Opens cards and notices when they come or go."""

    def __init__(self, *, ansi_color: bool | None) -> None:
        super().__init__(ansi_color=ansi_color)
        self._begun: Desk | None = None
        self._watch: CardWatch | None = None
        self._was_missing = False

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
        self.forget_requests()
        self.prefixings.clear()
        self.menu_page.forget()
        self.action_show_page("menu")
        if card.profile is None:
            self.action_show_page("survey")

    def let_card_go(self) -> None:
        """The card was unmounted: nothing is open any more, and that it is missing is no news."""
        self.desk = None
        self._watch = None
        self._was_missing = False
        self.forget_requests()
        self.action_show_page("cards")

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

    def action_show_page(self, name: str) -> None:
        """Open a page."""
        raise NotImplementedError

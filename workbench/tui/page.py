"""What every page has: a title bar above, the waiting plan and the keys below, and its own body between."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, ClassVar, cast

from rich.cells import cell_len
from textual.app import ComposeResult
from textual.screen import Screen
from textual.widget import Widget
from textual.worker import Worker

from workbench.tui.actions import PAGES, WORDS, Where, action_of, actions_at, footer_actions
from workbench.tui.key_footer import Key, KeyFooter
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line, Piece
from workbench.tui.strip_lines import strip_lines

if TYPE_CHECKING:
    from workbench.tui.app import Workbench
    from workbench.tui.desk import Desk


def title_line(page: Where, card_name: str, width: int) -> Line:
    """`Cardwright  1 menu  2 splash …   Larkspur`: the open page in brackets, the card where it fits.

    Where there is little room the pages stand closer, then without the program's name, and in the end the
    others by their keys alone.
    """
    tries = (_title_pieces(page, 2), _title_pieces(page, 1), _title_pieces(page, 1)[1:])
    pieces = next((made for made in tries if _width(made) <= width), _title_pieces(page, 1, has_words=False))
    room = width - _width(pieces)
    return Line(
        tuple(pieces), ((f"{card_name} ", "place"),) if card_name and cell_len(card_name) + 2 < room else ()
    )


def _title_pieces(page: Where, gap: int, *, has_words: bool = True) -> list[Piece]:
    pieces: list[Piece] = [(" Cardwright ", "strong")]
    for other in PAGES:
        key = action_of(f"page.{other}").key_list[0]
        if not key.isdigit() and other != page:
            continue  # the title has no room for all; the help and the palette name them
        word = WORDS[other].lower()
        if other == page:
            pieces.append((f" [{key} {word}]", "strong"))
        else:
            pieces += [(f"{' ' * gap}{key}", "key"), (f" {word}" if has_words else "", "plain")]
    return pieces


def _width(pieces: Iterable[Piece]) -> int:
    return sum(cell_len(text) for text, _tone in pieces)


WIDE = 100
"""Columns from which on the card stands in a pane of its own."""


class Page(Screen[None]):
    """One page. Its actions live in the registry under `where`."""

    where: ClassVar[Where]
    HORIZONTAL_BREAKPOINTS = [(0, "-narrow"), (WIDE, "-wide")]  # noqa: RUF012 - as Textual declares it

    @property
    def workbench(self) -> Workbench:
        """The app, as what it is."""
        return cast("Workbench", self.app)

    @property
    def desk(self) -> Desk | None:
        """The card that is being worked on."""
        return self.workbench.desk

    def compose(self) -> ComposeResult:
        # Set before there is anything to style: Textual sets the same class at the first resize.
        self.add_class("-wide" if self.app.size.width >= WIDE else "-narrow")
        yield LineView([self._title_line()], id="title-bar")
        yield from self.compose_body()
        yield LineView(self.strip(), id="plan-strip")
        yield KeyFooter(id="key-footer")

    def compose_body(self) -> Iterable[Widget]:
        """The page's own widgets."""
        raise NotImplementedError

    def _title_line(self) -> Line:
        return title_line(self.where, self.desk.card.name if self.desk else "", self.app.size.width)

    def on_resize(self) -> None:
        self.query_one("#title-bar", LineView).show([self._title_line()])

    def on_screen_resume(self) -> None:
        self.show_frame()
        self.show_desk()

    def show_frame(self) -> None:
        """Bring title, waiting plan and keys up to date."""
        self.query_one("#title-bar", LineView).show([self._title_line()])
        self.query_one("#plan-strip", LineView).show(self.strip())
        self.show_keys()

    def strip(self) -> list[Line]:
        """What stands above the keys: what is told, and the waiting plan."""
        return strip_lines(self.workbench, self.app.size.width)

    def show_keys(self) -> None:
        """Bring the footer up to date with what can be done now."""
        self.query_one(KeyFooter).show_keys(self.footer_keys())

    def footer_keys(self) -> list[Key]:
        """The keys of the footer, and whether each can be used now."""
        return [(action, self.can_do(action.id)) for action in footer_actions(self.where)]

    def can_do(self, action_id: str) -> bool:
        """Whether an action makes sense now."""
        return self.workbench.can_do(action_id)

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:  # noqa: ARG002 - Textual's signature
        """Grey out (None) what cannot be done."""
        for known in actions_at(self.where):
            if known.action == action:
                return True if self.can_do(known.id) else None
        return True

    def show_desk(self) -> None:
        """The card, or the waiting plan, is not what it was: show it as it is now."""

    def step_back(self) -> bool:
        """Undo the last thing that was opened or taken here; False where there is none."""
        return False

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A worker of this page may have failed for a reason that nobody foresaw."""
        self.workbench.on_worker_state_changed(event)

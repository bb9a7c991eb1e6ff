"""Says what every key does, the open page first. Made from the registry."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from textual.widget import Widget

from workbench.tui.actions import PAGES, WORDS, Where, actions_at
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import BLANK, Line, wrap

THREE_IDEAS = "Take an entry, move it, write: nothing is on the card before you write."


KEYS_WIDTH = 18


def help_lines(page: Where, width: int) -> Iterator[Line]:
    """Every action by place, the open page first."""
    for part in wrap(THREE_IDEAS, width):
        yield Line.of(part)
    places: list[Where] = [page, "list", "app", *(other for other in PAGES if other != page), "dialog"]
    for place in places:
        yield BLANK
        yield Line.of((WORDS[place], "strong"))
        for action in actions_at(place):
            first, *more = wrap(action.sentence, width - KEYS_WIDTH - 2)
            yield Line.of((f"  {action.shown_keys:<{KEYS_WIDTH}}", "key"), first)
            for part in more:
                yield Line.of(" " * (KEYS_WIDTH + 2), part)


class HelpDialog(Dialog[None]):
    """The table of keys."""

    title_text = "What every key does"
    hint = "↑ ↓: read on   esc: back"
    wide = True

    def __init__(self, page: Where) -> None:
        super().__init__()
        self._page = page

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        self.query_one("#dialog-list", LineList).show(
            list(help_lines(self._page, min(self.app.size.width, 110) - 8))
        )

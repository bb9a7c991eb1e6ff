"""An order that cannot be had, why, and the nearest one that can."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual.widget import Widget

from workbench.errors import CardwrightError
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import BLANK, Line, wrap


class NearestDialog(Dialog[bool]):
    """Dismisses with True to take the nearest order."""

    title_text = "This order cannot be had; nothing was changed"
    hint = "enter: take the nearest order   esc: back to the one before"
    wide = True

    def __init__(self, error: CardwrightError, names: Sequence[str]) -> None:
        super().__init__()
        self._error = error
        self._names = names

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        lines = [Line.of(part) for part in wrap(self._error.message, min(self.app.size.width, 110) - 12)]
        lines += [BLANK, Line.of(("The nearest order:", "strong"))]
        lines += [Line.of((f"{place:>4}  ", "muted"), name) for place, name in enumerate(self._names, 1)]
        self.query_one("#dialog-list", LineList).show(lines)

    def on_line_list_chosen(self) -> None:
        self.dismiss(True)

"""One of several lines, chosen with the arrows and enter."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual.widget import Widget

from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line


class ChoiceDialog(Dialog[int]):
    """Dismisses with the index of the chosen line."""

    hint = "↑ ↓: choose   enter: take it   esc: back"

    def __init__(self, title: str, lines: Sequence[Line], start: int = 0) -> None:
        super().__init__()
        self.title_text = title
        self._lines = lines
        self._start = start

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        self.query_one("#dialog-list", LineList).show(self._lines, self._start)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        self.dismiss(message.index)

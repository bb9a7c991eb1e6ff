"""Finds an entry by what its line holds; the cursor of the list goes there when enter is pressed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from textual.widget import Widget
from textual.widgets import Input

from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line


def find_matches(texts: Sequence[str], wanted: str) -> list[int]:
    """The indexes of the texts that hold `wanted`, letters' case aside; those that start with it first."""
    folded = wanted.casefold()
    found = [index for index, text in enumerate(texts) if folded in text.casefold()]
    return sorted(found, key=lambda index: not texts[index].casefold().startswith(folded))


class FindDialog(Dialog[int]):
    """Typing narrows the list; up and down choose; enter goes there."""

    title_text = "Find"
    hint = "↑ ↓: choose   enter: go there   esc: back"

    def __init__(self, texts: Sequence[str], start: int) -> None:
        super().__init__()
        self._texts = texts
        self._matches = list(range(len(texts)))
        self._start = start

    def compose_body(self) -> Iterable[Widget]:
        yield Input(id="dialog-input")
        yield LineList(id="dialog-list", empty="nothing holds that")

    def on_mount(self) -> None:
        super().on_mount()
        self._show_matches(self._start)

    def on_input_changed(self, event: Input.Changed) -> None:
        self._matches = find_matches(self._texts, event.value)
        self._show_matches(0)

    def _show_matches(self, cursor: int) -> None:
        lines = [Line.of(self._texts[index]) for index in self._matches]
        self.query_one("#dialog-list", LineList).show(lines, cursor)

    def on_key(self, event: object) -> None:
        key = getattr(event, "key", "")
        matches = self.query_one("#dialog-list", LineList)
        if key in ("up", "down") and not matches.has_focus:
            matches.move_cursor(matches.cursor + (1 if key == "down" else -1))

    def on_input_submitted(self) -> None:
        self._dismiss_chosen()

    def on_line_list_chosen(self) -> None:
        self._dismiss_chosen()

    def _dismiss_chosen(self) -> None:
        if self._matches:
            self.dismiss(self._matches[self.query_one("#dialog-list", LineList).cursor])

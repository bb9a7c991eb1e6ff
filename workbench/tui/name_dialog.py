"""Asks for one line of text: a name, a value, a path, what to find."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from textual.suggester import Suggester
from textual.widget import Widget
from textual.widgets import Input
from textual.widgets.input import Selection

from workbench.shown import shown
from workbench.tui.dialog import Dialog, text_lines
from workbench.tui.line_view import LineView


class TextDialog(Dialog[str]):
    """One line of text; enter takes it, escape steps back."""

    def __init__(
        self,
        title: str,
        value: str = "",
        *,
        hint: str = "enter: take it   esc: back",
        check: Callable[[str], str | None] | None = None,
        suggester: Suggester | None = None,
        note: str = "",
    ) -> None:
        """`check` says what is wrong with a text, or None; `note` stands above the line."""
        super().__init__()
        self.title_text = title
        self.hint = hint
        # An Input would hand control characters on to the terminal: such a text is typed anew.
        self._value = value if shown(value) == value else ""
        self._check = check
        self._suggester = suggester
        self._note = note

    def compose_body(self) -> Iterable[Widget]:
        if self._note:
            yield LineView(text_lines(self._note, self.text_width), id="dialog-text")
        yield Input(self._value, id="dialog-input", suggester=self._suggester, select_on_focus=False)

    def on_input_changed(self, event: Input.Changed) -> None:
        self.show_hint(self._fault(event.value) or self.hint)

    def on_input_submitted(self, event: Input.Submitted) -> None:
        event.stop()
        fault = self._final_fault(event.value)
        if fault is None:
            self.dismiss(event.value)
        else:
            self.show_hint(fault)

    def _final_fault(self, text: str) -> str | None:
        """What is in the way of taking a text; asked once, when it is handed in."""
        return self._fault(text)

    def _fault(self, text: str) -> str | None:
        found = self._check(text) if self._check else None
        return f"! {found}" if found else None


class NameDialog(TextDialog):
    """Another name for an entry; what is typed takes the place of its stem, and a suffix stays."""

    def __init__(self, name: str, stem: str = "") -> None:
        super().__init__(
            f"Another name for {name}",
            name,
            hint="enter: plan it; everything that names the entry follows   esc: back",
        )
        self._selected = len(stem) if name.startswith(stem) else 0

    def on_mount(self) -> None:
        super().on_mount()
        if self._value and self._selected:
            self.query_one("#dialog-input", Input).selection = Selection(0, self._selected)

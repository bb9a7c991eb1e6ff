"""Questions. A dialog only ever dismisses with a value; whoever asked acts on it."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Generic, TypeVar

from textual.app import ComposeResult
from textual.await_complete import AwaitComplete
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.tui.actions import bindings_for
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line, wrap

Answer = TypeVar("Answer")


class Dialog(ModalScreen[Answer | None], Generic[Answer]):
    """A box over the page: title, body, and one line that says what the keys do."""

    BINDINGS = bindings_for("dialog")
    CSS_PATH = find_assets("styles") / "dialogs.tcss"

    title_text = ""
    hint = "enter: yes   esc: back, nothing is done"
    wide = False
    _is_answered = False

    def compose(self) -> ComposeResult:
        with Vertical(id="dialog", classes="wide" if self.wide else ""):
            yield LineView(id="dialog-title")
            yield from self.compose_body()
            yield LineView(id="dialog-hint")

    def compose_body(self) -> Iterable[Widget]:
        """What stands between title and hint."""
        return ()

    def on_mount(self) -> None:
        self.query_one("#dialog-title", LineView).show([Line.of((self.title_text, "strong"))])
        self.show_hint(self.hint)

    def show_hint(self, text: str) -> None:
        """Say what the keys do, or what is wrong with what was typed."""
        hint = self.query_one("#dialog-hint", LineView)
        width = hint.size.width or self.text_width
        hint.show([Line.of((part, "muted")) for line in text.split("\n") for part in wrap(line, width)])

    @property
    def text_width(self) -> int:
        """Cells for text inside the box, as the style sheet sets it."""
        return (
            min(self.app.size.width, 110) - 6 if self.wide else min(70, self.app.size.width * 94 // 100) - 4
        )

    def dismiss(self, result: Answer | None = None) -> AwaitComplete:
        """Answer once: a key that was on its way while the dialog closed (a held enter) answers nothing."""
        if self._is_answered:
            return AwaitComplete()
        self._is_answered = True
        return super().dismiss(result)

    def action_dialog_back(self) -> None:
        self.dismiss(None)


def text_lines(text: str, width: int) -> list[Line]:
    """A sentence in lines."""
    return [Line.of(part) for part in wrap(text, width)]


class Question(Dialog[str]):
    """A sentence or two, and keys to answer with; dismisses with the answer's word."""

    def __init__(self, title: str, text: str, answers: dict[str, tuple[str, str]]) -> None:
        """`answers`: key → (answer, word for the person)."""
        super().__init__()
        self.title_text = title
        self._text = text
        self._answers = answers
        self.hint = "   ".join([*(f"{key}: {word}" for key, (_answer, word) in answers.items()), "esc: back"])

    def compose_body(self) -> Iterable[Widget]:
        yield LineView(id="dialog-text")

    def on_mount(self) -> None:
        super().on_mount()
        for key, (answer, word) in self._answers.items():
            self._bindings.bind(key, f"answer('{answer}')", word)
        self._show_text()

    def on_resize(self) -> None:
        self._show_text()

    def _show_text(self) -> None:
        view = self.query_one("#dialog-text", LineView)
        width = view.size.width or self.text_width
        view.show([line for part in self._text.split("\n") for line in text_lines(part, width)])

    def action_answer(self, answer: str) -> None:
        self.dismiss(answer)

"""What the survey asks: a question that only the device can answer, a value, and where the profile goes."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import TYPE_CHECKING, Literal

from textual.widget import Widget

from workbench.tui.dialog import Dialog, text_lines
from workbench.tui.line_list import LineList
from workbench.tui.line_view import LineView
from workbench.tui.lines import Line
from workbench.tui.name_dialog import TextDialog
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.jobs.survey import Question

Outcome = Literal["answer", "unsure", "back", "probe"]


@dataclass(frozen=True, slots=True)
class Given:
    """What a person did with a question."""

    outcome: Outcome
    value: str = ""
    """The choice, for an answer."""


class DeviceQuestion(Dialog[Given]):
    """One question, to be answered by looking at the device; dismisses with what was given."""

    def __init__(self, question: Question, *, can_go_back: bool, can_probe: bool) -> None:
        super().__init__()
        self.title_text = "Look at the device"
        self._question = question
        self._keys: dict[str, Outcome] = {}
        words = ["enter, or its number: answer"]
        if can_go_back:
            self._keys["b"] = "back"
            words.append("b: the question before")
        if can_probe:
            self._keys["p"] = "probe"
            words.append("p: put up a test picture instead")
        self.hint = "   ".join([*words, "esc: look at the findings first"])

    def compose_body(self) -> Iterable[Widget]:
        yield LineView(id="dialog-text")
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        for key, outcome in self._keys.items():
            self._bindings.bind(key, f"give('{outcome}')")
        for number in range(1, len(self._question.choices) + 2):
            self._bindings.bind(str(number), f"choose({number - 1})")
        choices = [
            Line.of((f"{number}  ", "key"), choice.words)
            for number, choice in enumerate(self._question.choices, 1)
        ]
        default = next(
            (one.words for one in self._question.choices if one.value == self._question.default), ""
        )
        unsure = Line.of(
            (f"{len(choices) + 1}  ", "key"),
            "I cannot tell",
            (f"  (taken until then: {default})", "muted"),
        )
        self.query_one("#dialog-list", LineList).show([*choices, unsure])
        self._show_text()

    def on_resize(self) -> None:
        self._show_text()

    def _show_text(self) -> None:
        view = self.query_one("#dialog-text", LineView)
        width = view.size.width or self.text_width
        decides = [
            Line.of((line.text, "muted"))
            for line in text_lines(f"It decides {self._question.because}.", width)
        ]
        view.show([*text_lines(self._question.words, width), *decides, Line(())])

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        self.action_choose(message.index)

    def action_choose(self, index: int) -> None:
        choices = self._question.choices
        if index < len(choices):
            self.dismiss(Given("answer", choices[index].value))
        else:
            self.dismiss(Given("unsure"))

    def action_give(self, outcome: Outcome) -> None:
        self.dismiss(Given(outcome))


class ValueDialog(TextDialog):
    """One value of a profile; it is only taken where the profile stays valid with it."""

    def __init__(
        self,
        title: str,
        value: str,
        *,
        note: str,
        check: Callable[[str], str | None],
        check_whole: Callable[[str], str | None],
    ) -> None:
        """`check` is asked at each key and has to be quick, `check_whole` before the value is taken."""
        super().__init__(title, value, check=check, note=note)
        self._check_whole = check_whole

    def _final_fault(self, text: str) -> str | None:
        found = self._fault(text)
        whole = self._check_whole(text) if found is None else None
        return f"! {whole}" if whole else found

"""The one confirmation: the whole plan, its cautions, what it leaves alone; enter writes it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from textual.widget import Widget

from workbench.changes.plan import Plan
from workbench.tui.costs import cost_words, count_words
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import BLANK, Line, wrap
from workbench.tui.outcome import outcome_of
from workbench.tui.plan_lines import conflict_lines, plan_lines
from workbench.tui.waiting import Waiting

FIRST_CAUTION = (
    "Before the first change on this card: make a full copy of the card if it holds anything "
    "that cannot be had again."
)
SYSTEM_CAUTION = (
    "A wrong splash or script on a system volume can stop a device from starting; "
    "keep the means to restore it."
)


def cautions(plan: Plan, is_first: bool) -> list[str]:
    """What a person should know before saying yes."""
    said = [FIRST_CAUTION] if is_first else []
    if "system" in plan.volumes and not any("starting" in note for note in plan.notes):
        said.append(SYSTEM_CAUTION)
    return said


def write_lines(waiting: Waiting, is_first: bool, width: int) -> Iterator[Line]:
    """The confirmation's text."""
    plan = waiting.plan
    for caution in cautions(plan, is_first):
        yield from _paragraph(f"! {caution}", width, "problem")
    yield from conflict_lines(plan)
    for wish in waiting.wishes:
        yield Line.of(("wish      ", "muted"), (wish.title, "strong"))
    yield Line.of(("in all    ", "muted"), cost_words(outcome_of(plan)))
    for note in plan.notes:
        yield from _paragraph(f"note      {note}", width, "plain")
    yield BLANK
    yield from plan_lines(plan)
    unruled = tuple(dict.fromkeys(plan.unruled))
    if unruled:
        yield BLANK
        yield Line.of(
            (f"left alone: {count_words(len(unruled), 'mention', 'mentions')} under no rule", "strong")
        )
        for mention in unruled:
            where = (
                f"{mention.at}, line {mention.line}"
                if mention.line
                else f"{mention.at}, byte {mention.offset}"
            )
            yield Line.of(("          ", "muted"), (where, "place"), (f"  {mention.text.strip()}", "muted"))


def _paragraph(text: str, width: int, tone: str) -> Iterator[Line]:
    indent = "          " if text.startswith("note") else "  "
    for part in wrap(text, width, indent=indent):
        yield Line(((part, "problem" if tone == "problem" else "plain"),))


class WriteDialog(Dialog[bool]):
    """Dismisses with True to write."""

    title_text = "Write this to the card?"
    wide = True

    def __init__(self, waiting: Waiting, is_first: bool, *, waits: bool = True) -> None:
        """`waits`: on no, the plan stays (an undo does not)."""
        super().__init__()
        self._waiting = waiting
        self._is_first = is_first
        self._can_write = not waiting.plan.conflicts
        kept = "not now, the plan keeps waiting" if waits else "back, nothing is done"
        self.hint = f"enter: write it   esc: {kept}   ↑ ↓: read on"
        if not self._can_write:
            self.hint = "! this cannot be written while something is in the way   esc: back"

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        width = min(self.app.size.width, 110) - 10
        self.query_one("#dialog-list", LineList).show(list(write_lines(self._waiting, self._is_first, width)))

    def on_line_list_chosen(self) -> None:
        if self._can_write:
            self.dismiss(True)

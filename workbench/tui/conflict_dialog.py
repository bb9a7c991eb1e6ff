"""A wish that cannot be planned as asked, and what stands in its way."""

from __future__ import annotations

from collections.abc import Iterable

from textual.widget import Widget

from workbench.changes.plan import Conflict, Plan
from workbench.tui.dialog import Dialog
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line, wrap
from workbench.tui.plan_lines import conflict_lines


class ConflictDialog(Dialog[Conflict]):
    """Dismisses with the conflict whose file the person wants to see."""

    hint = "enter: show the first file in the way, and its mend   esc: back"
    wide = True

    def __init__(self, plan: Plan) -> None:
        super().__init__()
        self.title_text = "This cannot be planned as asked; nothing was changed"
        self._plan = plan

    def compose_body(self) -> Iterable[Widget]:
        yield LineList(id="dialog-list")

    def on_mount(self) -> None:
        super().on_mount()
        width = min(self.app.size.width, 110) - 12
        lines: list[Line] = [Line.of((self._plan.title, "strong"))]
        for line in conflict_lines(self._plan):
            lines += [Line.of(part) for part in wrap(line.text, width, indent="  ")]
        self.query_one("#dialog-list", LineList).show(lines)

    def on_line_list_chosen(self) -> None:
        self.dismiss(self._plan.conflicts[0])

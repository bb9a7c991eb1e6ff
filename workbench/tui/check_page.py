"""What is wrong with the card as it will be, kind by kind, and mending it into the waiting plan.

A finding that the waiting plan mends is gone from the list; dropping the plan brings it back.
"""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Sequence
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Container
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError
from workbench.tui.actions import bindings_for
from workbench.tui.check_lines import (
    Row,
    context_lines,
    finding_lines,
    kind_lines,
    list_rows,
    row_line,
    sum_up,
)
from workbench.tui.line_list import LineList
from workbench.tui.lines import Line
from workbench.tui.page import Page

if TYPE_CHECKING:
    from workbench.card.profile import Profile
    from workbench.card.tree import Tree
    from workbench.changes.plan import Plan
    from workbench.jobs.check.finding import Finding
    from workbench.tui.desk import Desk, Wish

MOST_CONTEXT = 1024 * 1024
"""Bytes of a file that are read to show the lines around a place."""
NOTHING = "nothing is wrong with this card, as far as the rules can tell"


class CheckPage(Page):
    """The findings, and the one under the cursor with its place."""

    where = "check"
    BINDINGS = bindings_for("check")
    CSS_PATH = [find_assets("styles") / "pages.tcss", find_assets("styles") / "check.tcss"]  # noqa: RUF012 - as Textual has it
    AUTO_FOCUS = "#findings"

    def __init__(self) -> None:
        super().__init__()
        self._found: Sequence[Finding] = ()
        self._rows: Sequence[Row] = ()
        self._words: dict[str, str] = {}
        self._has_notes = True
        self._is_thorough = False

    def compose_body(self) -> Iterable[Widget]:
        with Container(id="check-panes"):
            yield LineList(id="findings", empty="checking …")
            yield LineList(id="finding")

    # Reading

    def show_desk(self) -> None:
        if self.desk is not None and self.desk.profile is not None:
            self._check(self.desk)
        else:
            self._found = ()
            self._show_found("no device profile fits this card: nothing can be checked by it")

    @work(exclusive=True, group="check", exit_on_error=False)
    async def _check(self, desk: Desk) -> None:
        self.query_one("#findings", LineList).set_title("Check: looking …")
        try:
            self._found, self._words = await asyncio.to_thread(_check, desk, self._is_thorough)
        except CardwrightError as error:
            self._found = ()
            self._show_found("the card could not be checked")
            self.workbench.say_error(error)
            return
        self._show_found(NOTHING)

    def _show_found(self, empty: str) -> None:
        shown = self.query_one("#findings", LineList)
        listed = [one for one in self._found if self._has_notes or one.level != "note"]
        hidden = len(self._found) - len(listed)
        self._rows = list_rows(listed)
        shown.set_title(f"{sum_up(listed)}{f' ({hidden} notes hidden)' if hidden else ''}")
        width = max(20, shown.size.width - 4)
        lines = [row_line(row, self._words.get(row.kind[0].rule, ""), width) for row in self._rows]
        shown.show(lines, empty=empty)
        if not self._rows:
            self.query_one("#finding", LineList).show((), empty="")
        self.show_keys()

    # What is under the cursor

    @property
    def row(self) -> Row | None:
        """The kind or finding under the cursor."""
        at = self.query_one("#findings", LineList).cursor
        return self._rows[at] if at < len(self._rows) else None

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id != "findings" or self.row is None or self.desk is None:
            return
        self.show_keys()
        row, words = self.row, self._words.get(self.row.kind[0].rule, "")
        if row.finding is None or row.finding.line is None:
            self._show_detail(row, words, ())
        else:
            self._show_place(self.desk, row, words)

    @work(exclusive=True, group="place", exit_on_error=False)
    async def _show_place(self, desk: Desk, row: Row, words: str) -> None:
        assert row.finding is not None and row.finding.line is not None
        try:
            raw = await asyncio.to_thread(desk.tree().read, row.finding.at, MOST_CONTEXT)
        except CardwrightError:
            raw = b""
        if row is self.row:
            self._show_detail(row, words, context_lines(raw, row.finding.line))

    def _show_detail(self, row: Row, words: str, context: Sequence[Line]) -> None:
        pane = self.query_one("#finding", LineList)
        width = max(20, pane.size.width - 4)
        lines = (
            kind_lines(row, words, width)
            if row.finding is None
            else finding_lines(row.finding, words, context, width)
        )
        pane.show(list(lines), cursor=0)

    def on_line_list_chosen(self, message: LineList.Chosen) -> None:
        if message.line_list.id == "findings":
            self.action_check_show()

    # Actions

    def can_do(self, action_id: str) -> bool:
        if action_id == "check.mend":
            return self.row is not None and any(map(_is_mendable, _of(self.row)))
        if action_id == "check.mend-kind":
            return self.row is not None and any(map(_is_mendable, self.row.kind))
        if action_id == "check.mend-all":
            return any(map(_is_mendable, self._found))
        if action_id == "check.show":
            return self.row is not None and self.row.finding is not None
        return super().can_do(action_id)

    def action_check_show(self) -> None:
        finding = self.row.finding if self.row is not None else None
        if finding is None:
            return
        if finding.line is None:
            self.workbench.say(f"{finding.at} is no text with a line to go to.")
            return
        self.workbench.show_place(finding.at, finding.line)

    def action_check_mend(self) -> None:
        """One finding, or a whole kind where the cursor is on its heading."""
        if self.row is not None:
            self._wish(_of(self.row))

    def action_check_mend_kind(self) -> None:
        if self.row is not None:
            self._wish(self.row.kind)

    def action_check_mend_all(self) -> None:
        self._wish(self._found)

    def _wish(self, findings: Sequence[Finding]) -> None:
        mendable = [one for one in findings if one.remedy is not None]
        if mendable:
            self.workbench.wish(mend_findings_wish(mendable))
        else:
            self.workbench.say("No mend is known for this; it takes a person.")

    def action_check_notes(self) -> None:
        self._has_notes = not self._has_notes
        self._show_found(NOTHING)

    def action_check_again(self) -> None:
        self._is_thorough = False
        self.show_desk()

    def action_check_thorough(self) -> None:
        self._is_thorough = True
        self.show_desk()


def mend_findings_wish(findings: Sequence[Finding]) -> Wish:
    """The mends of these findings, as one wish."""
    return partial(_plan_mends, tuple(findings))


def _plan_mends(findings: Sequence[Finding], tree: Tree, profile: Profile) -> Plan:
    from workbench.jobs.check.mending import plan_mend, plan_mends
    from workbench.values import replace

    if len(findings) == 1:
        return plan_mend(tree, profile, findings[0])
    mending = plan_mends(tree, profile, findings)
    left = [f"Left as it is: {one.finding.at}: {one.because}" for one in mending.left]
    return replace(mending.plan, notes=(*mending.plan.notes, *left))


def _of(row: Row) -> Sequence[Finding]:
    return row.kind if row.finding is None else (row.finding,)


def _is_mendable(finding: Finding) -> bool:
    return finding.remedy is not None


def _check(desk: Desk, is_thorough: bool) -> tuple[Sequence[Finding], dict[str, str]]:
    """The findings on the card as it will be, and what each rule is about."""
    from workbench.card.health import read_health
    from workbench.changes.ledger_health import read_ledger_health
    from workbench.jobs.check.checking import check_card
    from workbench.jobs.check.registry import RULES

    ledger = read_ledger_health(desk.card, is_thorough=is_thorough)
    health = read_health(desk.card).with_ledger(ledger)
    found = check_card(desk.tree(), desk.known_profile(), health, is_thorough=is_thorough)
    return found, {name: rule.words for name, rule in RULES.items()}

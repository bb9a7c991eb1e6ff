"""What was changed on this card, newest first, and undo: one change alone, or with all after it."""

from __future__ import annotations

import asyncio
from collections.abc import Iterable, Iterator, Sequence
from typing import TYPE_CHECKING

from textual import work
from textual.containers import Horizontal
from textual.widget import Widget

from workbench.assets import find_assets
from workbench.errors import CardwrightError, ConflictError
from workbench.tui.actions import bindings_for
from workbench.tui.costs import size_words
from workbench.tui.dialog import Question
from workbench.tui.line_list import LineList
from workbench.tui.lines import BLANK, Line, wrap
from workbench.tui.page import Page
from workbench.tui.tones import Tone
from workbench.tui.waiting import Waiting
from workbench.tui.writing import write_plan
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.changes.ledger import Change, Damaged
    from workbench.changes.let_go import LettingGo
    from workbench.changes.plan import Plan
    from workbench.tui.desk import Desk

STATES = {
    "prepared": "prepared, nothing changed",
    "begun": "! unfinished",
    "done": "done",
    "back": "taken back before its end",
}


def state_words(change: Change) -> str:
    """`done`, `undone by 9`, …"""
    if change.undone_by is not None:
        return f"undone by {change.undone_by}"
    return STATES.get(change.state, change.state)


def change_line(change: Change) -> Line:
    """`  7  done   Rename Boats to Ships`."""
    state = state_words(change)
    tone: Tone = "problem" if change.state == "begun" else "muted"
    return Line.of((f"{change.number:>4}  ", "key"), change.title, right=[(state, tone)])


def change_lines(change: Change, width: int) -> Iterator[Line]:
    """One change in full."""
    yield Line.of((f"change {change.number}", "strong"))
    for part in wrap(change.title, width):
        yield Line.of(part)
    yield BLANK
    yield Line.of(("state     ", "muted"), state_words(change))
    yield Line.of(("written   ", "muted"), str(change.time), (" by this computer's clock", "muted"))
    yield Line.of(("volumes   ", "muted"), ", ".join(change.volumes))
    for note in change.notes:
        for part in wrap(f"note      {note}", width, indent="          "):
            yield Line.of(part)
    for part in wrap(f"kept      {kept_words(change)}", width, indent="          "):
        yield Line.of((part[:10], "muted"), part[10:])


def kept_words(change: Change) -> str:
    """What is there of what it replaced."""
    if change.let_go:
        return "! let go: only moves and a manifest's own edits can still be undone"
    if change.kept_on:
        away = "" if change.is_keep_here else "! not here: "
        return f"{away}in {change.kept_on} on the computer that wrote it, the card having been too full"
    return f"{size_words(change.bytes_kept)} of what it replaced"


def farewell_words(letting_go: LettingGo) -> str:
    """What would go, and what it means, for the question."""
    said = [f"{size_words(letting_go.bytes_freed)} would be free on the card again."]
    for one in letting_go.farewells:
        undone = f" (taken back by change {one.undone_by})" if one.undone_by is not None else ""
        said.append(f"Change {one.number}, {one.title}{undone}: {one.consequence}.")
    return "\n".join([*said, "The copies are removed for good; the change stays in the history."])


class HistoryPage(Page):
    """The ledger of the card."""

    where = "history"
    BINDINGS = bindings_for("history")
    CSS_PATH = find_assets("styles") / "pages.tcss"
    AUTO_FOCUS = "#changes"

    def __init__(self) -> None:
        super().__init__()
        self._changes: Sequence[Change] = ()
        self._damaged: Sequence[Damaged] = ()

    def compose_body(self) -> Iterable[Widget]:
        with Horizontal(classes="halves"):
            yield LineList(id="changes", empty="reading the ledger …")
            yield LineList(id="change")

    @property
    def change(self) -> Change | None:
        """The change under the cursor."""
        at = self.query_one("#changes", LineList).cursor
        return self._changes[at] if at < len(self._changes) else None

    def show_desk(self) -> None:
        if self.desk is not None:
            self._read(self.desk)

    @work(exclusive=True, group="history", exit_on_error=False)
    async def _read(self, desk: Desk) -> None:
        from workbench.changes.ledger import find_damaged, read_history

        shown = self.query_one("#changes", LineList)
        try:
            changes = await asyncio.to_thread(read_history, desk.card)
            self._damaged = await asyncio.to_thread(find_damaged, desk.card)
        except CardwrightError as error:
            self._changes = ()
            shown.show((), empty="the ledger could not be read")
            self.workbench.say_error(error)
            return
        self._changes = sorted(changes, key=lambda change: -change.number)
        shown.set_title("Changes, newest first")
        lines = [change_line(one) for one in self._changes]
        lines += [Line.of((f"! {one.id}  ", "problem"), one.because) for one in self._damaged]
        shown.show(lines, empty="nothing was changed on this card yet")
        self.show_keys()

    def on_line_list_cursor_moved(self, message: LineList.CursorMoved) -> None:
        if message.line_list.id == "changes":
            pane = self.query_one("#change", LineList)
            width = pane.size.width - 4
            if self.change is not None:
                pane.show(list(change_lines(self.change, width)), cursor=0)
                return
            at = message.index - len(self._changes)
            said = self._damaged[at].because if at < len(self._damaged) else ""
            pane.show([Line.of(part) for part in wrap(said, width)], cursor=0)

    def can_do(self, action_id: str) -> bool:
        if action_id in ("change.undo", "change.undo-after"):
            return self.change is not None and self.change.state == "done" and self.change.undone_by is None
        if action_id == "change.let-go":
            return self.change is not None and self.change.bytes_kept > 0 and self.change.state != "begun"
        if action_id == "change.recover":
            return any(change.state == "begun" for change in self._changes)
        return super().can_do(action_id)

    def action_change_undo(self) -> None:
        self._ask_undo(after_too=False)

    def action_change_undo_after(self) -> None:
        self._ask_undo(after_too=True)

    def _ask_undo(self, *, after_too: bool) -> None:
        desk, change = self.desk, self.change
        if desk is None or change is None:
            return
        if desk.waiting:
            self.workbench.say(
                "A plan waits: write it or drop it first (undo starts from the card as it is)."
            )
            return
        self._undo(desk, change, after_too)

    @work(exclusive=True, group="undo", exit_on_error=False)
    async def _undo(self, desk: Desk, change: Change, after_too: bool) -> None:
        try:
            plan: Plan | None = await asyncio.to_thread(_plan_undo, desk, change.id, after_too, False)
        except ConflictError as error:
            plan = await self._ask_partial(desk, change, after_too, error)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        if plan is not None and await write_plan(self.workbench, desk, Waiting((plan,))):
            self.workbench.show_card_anew()

    async def _ask_partial(
        self, desk: Desk, change: Change, after_too: bool, error: ConflictError
    ) -> Plan | None:
        answers = {"p": ("partial", "take back only the parts without conflict")}
        if not after_too:
            answers["a"] = ("after", "undo all later changes too")
        answer = await self.app.push_screen_wait(
            Question(f"Change {change.number} cannot be taken back whole", error.message, answers)
        )
        if answer is None:
            return None
        try:
            return await asyncio.to_thread(
                _plan_undo, desk, change.id, after_too or answer == "after", answer == "partial"
            )
        except CardwrightError as refused:
            self.workbench.say_error(refused)
            return None

    def action_change_let_go(self) -> None:
        if self.desk is not None and self.change is not None:
            self._let_go(self.desk, self.change)

    @work(exclusive=True, group="let-go", exit_on_error=False)
    async def _let_go(self, desk: Desk, change: Change) -> None:
        from workbench.changes.let_go import choose_named, let_go, plan_letting_go

        try:
            letting_go = await asyncio.to_thread(plan_letting_go, desk.card, choose_named([change.id]))
            answer = await self.app.push_screen_wait(
                Question(
                    f"Let go of what change {change.number} keeps?",
                    farewell_words(letting_go),
                    {"y": ("yes", "remove these copies")},
                )
            )
            if answer != "yes":
                return
            await asyncio.to_thread(let_go, letting_go)
        except CardwrightError as error:
            self.workbench.say_error(error)
            return
        self.workbench.say(f"{size_words(letting_go.bytes_freed)} of kept copies removed.")
        self.workbench.show_card_anew()

    def action_change_recover(self) -> None:
        if self.desk is not None:
            self.workbench.offer_recovery(self.desk)


def _plan_undo(desk: Desk, change: str, after_too: bool, partial: bool) -> Plan:
    from workbench.changes.undo import plan_undo

    plan = plan_undo(desk.card, change, after_too=after_too, partial=partial)
    if not partial:
        return plan
    # What stays was named and agreed to; in the confirmation it is a note, and in the way of nothing.
    left = [f"Left as it is: {one.at}: {one.because}" for one in plan.conflicts]
    return replace(plan, conflicts=(), notes=(*plan.notes, *left))

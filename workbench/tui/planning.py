"""From wishes to the waiting plan.

Invariant: wishes are planned one after the other, in a thread, each on the card as the wishes before it
leave it; the waiting plan changes only in a message handler, and is kept on the host each time it does.
"""

from __future__ import annotations

import asyncio
from collections import deque
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.worker import Worker, WorkerState

from workbench.errors import CardwrightError
from workbench.tui.base_app import BaseApp
from workbench.tui.costs import count_words
from workbench.tui.waiting import Waiting

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.changes.plan import Conflict, Plan
    from workbench.tui.desk import Desk, Wish


class WishPlanned(Message):
    """A wish was planned; it joins the waiting plan, or takes the place of its last wish."""

    def __init__(self, desk: Desk, plan: Plan, base: Waiting) -> None:
        super().__init__()
        self.desk, self.plan, self.base = desk, plan, base


class WishRefused(Message):
    """A wish could not be planned; nothing changed."""

    def __init__(self, error: CardwrightError) -> None:
        super().__init__()
        self.error = error


class Planner(BaseApp):
    """Plans wishes, and drops them."""

    def __init__(self, *, ansi_color: bool | None) -> None:
        super().__init__(ansi_color=ansi_color)
        self.is_planning = False
        self._wishes: deque[tuple[Wish, bool]] = deque()
        """What is still to be planned, and whether it takes the place of the last wish."""
        self._writes_when_planned = False

    def wish(self, wish: Wish) -> None:
        """Plan a wish, after those that are being planned."""
        self._wishes.append((wish, False))
        self._plan_next()

    def replace_last_wish(self, wish: Wish) -> None:
        """Plan a wish in place of the last one that waits."""
        self._wishes.append((wish, True))
        self._plan_next()

    def _plan_next(self) -> None:
        if self.is_planning or self.desk is None:
            return
        if not self._wishes:
            if self._writes_when_planned:
                self._writes_when_planned = False
                self.action_plan_write()
            return
        wish, replaces = self._wishes.popleft()
        base = self.desk.waiting.without_last() if replaces else self.desk.waiting
        self.is_planning = True
        self._plan(self.desk, wish, base)
        self.show_frame()

    @work(thread=True, group="plan", exit_on_error=False)
    def _plan(self, desk: Desk, wish: Wish, base: Waiting) -> None:
        try:
            self.post_message(WishPlanned(desk, desk.plan(wish, base), base))
        except CardwrightError as error:
            self.post_message(WishRefused(error))

    def on_wish_planned(self, message: WishPlanned) -> None:
        self.is_planning = False
        if message.desk is self.desk:
            self._take_plan(message.desk, message.plan, message.base)
        self._plan_next()

    def _take_plan(self, desk: Desk, plan: Plan, base: Waiting) -> None:
        if plan.conflicts:
            self._wishes.clear()
            self._say_conflicts(plan)
        elif plan.steps:
            self.set_waiting(desk, base.grown(plan))
        else:
            self.say(" ".join(plan.notes) or "Nothing needs to change.")
            self._wish_failed()

    def _say_conflicts(self, plan: Plan) -> None:
        from workbench.tui.conflict_dialog import ConflictDialog

        self._wish_failed()
        self.push_screen(ConflictDialog(plan), self._show_conflict)

    def _show_conflict(self, conflict: Conflict | None) -> None:
        if conflict is not None:
            self.show_place(conflict.at, conflict.line)

    def on_wish_refused(self, message: WishRefused) -> None:
        self.is_planning = False
        self._wishes.clear()
        self.say_error(message.error)
        self._wish_failed()

    def _wish_failed(self) -> None:
        """Nothing joined the waiting plan: what is shown goes back to what it leaves."""
        self._writes_when_planned = False
        self.show_frame()
        self.menu_page.show_as_planned()

    def set_waiting(self, desk: Desk, waiting: Waiting) -> None:
        """Another waiting plan: show it, and keep it for the case that the workbench is left."""
        desk.waiting = waiting
        self.show_desk()
        self.keep_waiting(desk)

    @work(exclusive=True, group="keep", exit_on_error=False)
    async def keep_waiting(self, desk: Desk) -> None:
        """Save the waiting plan in the user's state folder."""
        try:
            await asyncio.to_thread(desk.keep_waiting)
        except CardwrightError as error:
            self.say_error(error)

    def action_plan_drop_last(self) -> None:
        if self.desk is not None and self.desk.waiting:
            self.set_waiting(self.desk, self.desk.waiting.without_last())

    def action_plan_drop_all(self) -> None:
        if self.desk is None or not self.desk.waiting:
            return
        from workbench.tui.dialog import Question

        count = count_words(len(self.desk.waiting.wishes), "wish", "wishes")
        self.push_screen(
            Question(
                "Drop the waiting plan?",
                f"{count} would be forgotten. The card stays as it is.",
                {"d": ("drop", "drop it")},
            ),
            partial(self._drop_all, self.desk),
        )

    def _drop_all(self, desk: Desk, answer: str | None) -> None:
        if answer == "drop":
            self.set_waiting(desk, Waiting())

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A worker that failed for a reason that nobody foresaw: say so, and stay up."""
        if event.state is not WorkerState.ERROR:
            return
        self.is_planning = False
        self._wishes.clear()
        error = event.worker.error
        self.log.error("worker failed", error)
        self.say(f"! This failed in a way that was not foreseen ({type(error).__name__}: {error}).", "error")

    def action_plan_write(self) -> None:
        """Ask whether to write the waiting plan; wishes that are still being planned belong to it."""
        if self.is_planning or self._wishes:
            self._writes_when_planned = True
        elif self.desk is not None and self.desk.waiting and not self.is_writing:
            self.write()

    def write(self) -> None:
        """Ask, and write."""
        raise NotImplementedError

    def show_place(self, at: VolumePath, line: int | None) -> None:
        """Open a file of the card at a line."""
        raise NotImplementedError

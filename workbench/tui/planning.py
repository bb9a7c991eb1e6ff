"""From wishes to the waiting plan.

Invariant: wishes are planned one after the other, in a thread, each on the card as the wishes before it
leave it; the waiting plan changes only in a message handler, and is kept on the host each time it does.
"""

from __future__ import annotations

import asyncio
from collections import deque
from collections.abc import Callable
from functools import partial
from typing import TYPE_CHECKING

from textual import work
from textual.message import Message
from textual.worker import Worker, WorkerState

from workbench.errors import CardwrightError
from workbench.tui.base_app import BaseApp
from workbench.tui.costs import count_words
from workbench.tui.waiting import Waiting
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.changes.plan import Conflict, Plan
    from workbench.tui.arranging import Arranging
    from workbench.tui.desk import AnyWish, Desk


@dataclass(slots=True, eq=False)
class Request:
    """Something to be planned: a wish, or the moves in a menu."""

    wish: AnyWish | None = None
    replaces: bool = False
    """Whether it takes the place of the last wish."""
    arranging: Arranging | None = None
    is_tentative: bool = False
    """Whether it is only to be looked at: the entries are still being carried."""


class WishPlanned(Message):
    """A wish was planned; it joins the waiting plan, or takes the place of its last wish."""

    def __init__(self, desk: Desk, request: Request, was: Waiting, plan: Plan, then: Waiting) -> None:
        super().__init__()
        self.desk, self.request, self.was, self.plan, self.then = desk, request, was, plan, then


class WishRefused(Message):
    """A wish could not be planned; nothing changed."""

    def __init__(self, request: Request, error: CardwrightError) -> None:
        super().__init__()
        self.request, self.error = request, error


class Planner(BaseApp):
    """Plans wishes, and drops them."""

    def __init__(self, *, ansi_color: bool | None) -> None:
        super().__init__(ansi_color=ansi_color)
        self._requests: deque[Request] = deque()
        """What is still to be planned."""
        self._planning: Request | None = None
        self._after_planning: Callable[[], object] | None = None
        """What is to be done as soon as everything that was asked for is planned."""

    @property
    def is_planning(self) -> bool:
        """Whether anything that was asked for is not planned yet."""
        return self._planning is not None or bool(self._requests)

    def wish(self, wish: AnyWish) -> None:
        """Plan a wish, after those that are being planned."""
        self._ask(Request(wish))

    def replace_last_wish(self, wish: AnyWish) -> None:
        """Plan a wish in place of the last one that waits."""
        self._ask(Request(wish, replaces=True))

    def _ask(self, request: Request) -> None:
        self._requests.append(request)
        self._plan_next()

    def when_planned(self, do: Callable[[], object]) -> None:
        """Do this as soon as everything that was asked for is planned; not at all, if some of it fails."""
        self._after_planning = do
        self._plan_next()

    def forget_requests(self) -> None:
        """Another card comes: what is still to be planned was for the other one."""
        self._requests.clear()
        self._planning = None

    def _plan_next(self) -> None:
        if self._planning is not None or self.desk is None:
            return
        if not self._requests:
            after, self._after_planning = self._after_planning, None
            if after is not None:
                after()
            return
        if not self._is_time_for(self._requests[0]):
            return
        self._planning = self._requests.popleft()
        self._start(self.desk, self._planning)
        self.show_frame()

    def _is_time_for(self, request: Request) -> bool:  # noqa: ARG002 - for those that wait for silence
        return True

    def _start(self, desk: Desk, request: Request) -> None:
        self._plan(desk, request, desk.waiting)

    @work(thread=True, group="plan", exit_on_error=False)
    def _plan(self, desk: Desk, request: Request, was: Waiting) -> None:
        assert request.wish is not None
        base = was.without_last() if request.replaces else was
        try:
            plan = desk.plan(request.wish, base)
            then = base.grown(plan)
            desk.foresee(then)
            self.post_message(WishPlanned(desk, request, was, plan, then))
        except CardwrightError as error:
            self.post_message(WishRefused(request, error))

    def on_wish_planned(self, message: WishPlanned) -> None:
        if message.request is not self._planning:
            return  # dropped in the meantime
        self._planning = None
        if message.desk is self.desk and message.was is not message.desk.waiting:
            self._requests.appendleft(message.request)  # what it was planned on was dropped
        elif message.desk is self.desk:
            self._take_plan(message.desk, message.plan, message.then)
        self._plan_next()

    def _take_plan(self, desk: Desk, plan: Plan, then: Waiting) -> None:
        if plan.conflicts:
            self._requests.clear()
            self._say_conflicts(plan)
        elif plan.steps:
            self.set_waiting(desk, then)
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
        if message.request is not self._planning:
            return
        self._planning = None
        self._requests.clear()
        self.say_error(message.error)
        self._wish_failed()

    def _wish_failed(self) -> None:
        """Nothing joined the waiting plan: what is shown goes back to what it leaves."""
        self._after_planning = None
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

    # Dropping

    @property
    def has_wishes(self) -> bool:
        """Whether there is anything to drop or to write."""
        return self.desk is not None and (bool(self.desk.waiting) or self.is_planning)

    def action_plan_drop_last(self) -> None:
        """Drop what was asked for last, planned or not."""
        if self._requests:
            self._requests.pop()
            self.show_frame()
        elif self._planning is not None:
            self._planning = None
            self._wish_failed()
        elif self.desk is not None and self.desk.waiting:
            self.set_waiting(self.desk, self.desk.waiting.without_last())

    def action_plan_drop_all(self) -> None:
        if self.desk is None or not self.has_wishes:
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
            self.forget_requests()
            self.set_waiting(desk, Waiting())

    def on_worker_state_changed(self, event: Worker.StateChanged) -> None:
        """A worker that failed for a reason that nobody foresaw: say so, and stay up."""
        if event.state is not WorkerState.ERROR:
            return
        error = event.worker.error
        self.log.error("worker failed", error)
        self.say(f"! This failed in a way that was not foreseen ({type(error).__name__}: {error}).", "error")
        if event.worker.group == "plan":
            self.forget_requests()
            self._wish_failed()

    # Writing

    def action_plan_write(self) -> None:
        """Ask whether to write the waiting plan; wishes that are still being planned belong to it."""
        if self.is_planning:
            self.when_planned(self.action_plan_write)
        elif self.desk is not None and self.desk.waiting and not self.is_writing:
            self.write()

    def write(self) -> None:
        """Ask, and write."""
        raise NotImplementedError

    def show_place(self, at: VolumePath, line: int | None) -> None:
        """Open a file of the card at a line."""
        raise NotImplementedError

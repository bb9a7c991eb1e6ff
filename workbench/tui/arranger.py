"""From moves in a menu to one wish with the least renaming.

Invariant: the list shows the wanted order at once and never waits for a plan. Moves are planned when the keys
fall silent; a result that another move has overtaken is dropped. Each move can be taken back by itself.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual import work
from textual.message import Message
from textual.timer import Timer

from workbench.errors import CardwrightError, OrderRefusedError
from workbench.tui.arranging import Arranging, Prefixing
from workbench.tui.detail_pane import SILENCE_S
from workbench.tui.planning import Planner, Request
from workbench.values import dataclass

if TYPE_CHECKING:
    from workbench.tui.desk import Desk
    from workbench.tui.ordering import Nearest, Ordered
    from workbench.tui.waiting import Waiting


class OrderPlanned(Message):
    """A wanted order was planned."""

    def __init__(self, desk: Desk, request: Request, ordered: Ordered, then: Waiting) -> None:
        super().__init__()
        self.desk, self.request, self.ordered, self.then = desk, request, ordered, then


class OrderRefused(Message):
    """A wanted order cannot be had."""

    def __init__(self, request: Request, error: CardwrightError, nearest: Nearest | None) -> None:
        super().__init__()
        self.request, self.error, self.nearest = request, error, nearest


@dataclass(frozen=True, slots=True)
class Preview:
    """What the entries being carried would take, were they placed here."""

    arranging: Arranging
    then: Waiting | None
    error: CardwrightError | None = None


class Arranger(Planner):
    """Takes moves, and what is being carried, and plans them."""

    SILENCE: ClassVar[float] = SILENCE_S

    def __init__(self, *, ansi_color: bool | None) -> None:
        super().__init__(ansi_color=ansi_color)
        self._silence: Timer | None = None
        self._trying: Arranging | None = None
        self.preview: Preview | None = None
        self.prefixings: dict[str, Prefixing] = {}
        """How prefixes are made, by menu, where the person chose it."""

    @property
    def live(self) -> Arranging | None:
        """The moves that another move would join; None where something else was wished since."""
        pending = (*reversed(self._requests), *([self._planning] if self._planning else ()))
        for request in pending:
            if not request.is_tentative:
                found: Arranging | None = request.arranging
                return found
        return self.desk.waiting.arranging if self.desk is not None else None

    def arrange(self, arranging: Arranging) -> None:
        """Want this order, in place of what was wanted with the same moves before."""
        desk, base = self.desk, self._base_of(arranging)
        if desk is None or base is None:
            return
        ready = self._made_already(arranging, base)
        self.stop_trying()
        planning = self._planning
        if ready is not None or not arranging.moves:
            if planning is not None and _is_of(planning, arranging.session):
                self._planning = None  # its result is not waited for
            self._take_waiting(desk, base if ready is None else ready)
            self._plan_next()
        elif planning is not None and planning.arranging == arranging:
            planning.is_tentative = False
        else:
            self._requests.append(Request(arranging=arranging))
            self._wait_for_silence()
        self.show_frame()

    def _take_waiting(self, desk: Desk, waiting: Waiting) -> None:
        if waiting is not desk.waiting:
            self.set_waiting(desk, waiting)

    def try_order(self, arranging: Arranging) -> None:
        """Look what this order would take, while the entries are still being carried."""
        self.stop_trying()
        self._trying = arranging
        self._requests.append(Request(arranging=arranging, is_tentative=True))
        self._wait_for_silence()

    def stop_trying(self) -> None:
        """Nothing is carried any more, or it was carried on."""
        self._trying = self.preview = None
        for request in [one for one in self._requests if one.is_tentative]:
            self._requests.remove(request)

    def _base_of(self, arranging: Arranging) -> Waiting | None:
        """What waits before these moves; also takes what they were before out of the queue."""
        for request in [one for one in self._requests if _is_of(one, arranging.session)]:
            self._requests.remove(request)
        return self.desk.waiting.without(arranging.session) if self.desk is not None else None

    def _made_already(self, arranging: Arranging, base: Waiting) -> Waiting | None:
        """The waiting plan with these moves, where it was made already."""
        preview, waiting = self.preview, self.desk.waiting if self.desk is not None else None
        if waiting is not None and waiting.arranging == arranging:
            return waiting
        if preview is None or preview.then is None or preview.arranging != arranging:
            return None
        return preview.then if preview.then.before is base and not preview.then.plan.conflicts else None

    # Silence

    def _wait_for_silence(self) -> None:
        if self._silence is not None:
            self._silence.stop()
        self._silence = self.set_timer(self.SILENCE, self._fall_silent)

    def _fall_silent(self) -> None:
        self._silence = None
        self._plan_next()

    def _is_time_for(self, request: Request) -> bool:
        return request.arranging is None or self._silence is None or self._after_planning is not None

    # Planning

    def _start(self, desk: Desk, request: Request) -> None:
        if request.arranging is None:
            super()._start(desk, request)
        else:
            self._plan_order(desk, request, desk.waiting.without(request.arranging.session))

    @work(thread=True, group="plan", exit_on_error=False)
    def _plan_order(self, desk: Desk, request: Request, base: Waiting) -> None:
        assert request.arranging is not None
        try:
            ordered = desk.plan_order(request.arranging, base)
            then = base.arranged(request.arranging, ordered)
            desk.foresee(then)
            self.post_message(OrderPlanned(desk, request, ordered, then))
        except OrderRefusedError as error:
            self.post_message(
                OrderRefused(request, error, desk.nearest_order(request.arranging, base, error))
            )
        except CardwrightError as error:
            self.post_message(OrderRefused(request, error, None))

    def on_order_planned(self, message: OrderPlanned) -> None:
        if self._is_expected(message.request) and message.desk is self.desk:
            self._take_order(message.desk, message.request, message.ordered, message.then)
        self._plan_next()
        self.show_frame()

    def _is_expected(self, request: Request) -> bool:
        """Whether a result is still asked for: not dropped, and not overtaken by another move."""
        if request is not self._planning or request.arranging is None:
            return False
        self._planning = None
        if request.is_tentative:
            return request.arranging == self._trying
        session = request.arranging.session
        return not any(_is_of(later, session) and not later.is_tentative for later in self._requests)

    def _take_order(self, desk: Desk, request: Request, ordered: Ordered, then: Waiting) -> None:
        assert request.arranging is not None
        if request.is_tentative:
            self.preview = Preview(request.arranging, then)
            self.show_frame()
        elif desk.waiting.without(request.arranging.session) is not then.before:
            self._requests.appendleft(request)  # what it was planned on was dropped
        elif ordered.plan.conflicts:
            self._go_back(request.arranging)
            self._say_conflicts(ordered.plan)
        else:
            self.set_waiting(desk, then)

    def on_order_refused(self, message: OrderRefused) -> None:
        request = message.request
        if self._is_expected(request) and request.arranging is not None:
            if request.is_tentative:
                self.preview = Preview(request.arranging, None, message.error)
                self.show_frame()
            else:
                self._go_back(request.arranging)
                self._say_refusal(request.arranging, message.error, message.nearest)
        self._plan_next()
        self.show_frame()

    def _go_back(self, arranging: Arranging) -> None:
        """The last move cannot be had: want what was wanted before it."""
        self.menu_page.put_back()
        self._requests.clear()
        self._after_planning = None
        back = arranging.without_last()
        self.arrange(back)
        self.menu_page.show_order(back)

    def _say_refusal(self, arranging: Arranging, error: CardwrightError, nearest: Nearest | None) -> None:
        if nearest is None or nearest.keys == arranging.without_last().keys:
            self.say_error(error)
            return
        from workbench.tui.nearest_dialog import NearestDialog

        def take(answer: bool | None) -> None:
            if answer:
                title = f"{arranging.moves[-1].title}, as near as can be had"
                near = arranging.without_last().moved(title, nearest.keys)
                self.arrange(near)
                self.menu_page.show_order(near)

        self.push_screen(NearestDialog(error, nearest.names), take)

    # Dropping

    def action_plan_drop_last(self) -> None:
        """Put a carried entry back; else take back the last move alone, or the last other wish."""
        if self.menu_page.put_back():
            return
        live = self.live
        if live is None or not live.moves:
            super().action_plan_drop_last()
            return
        back = live.without_last()
        self.arrange(back)
        self.menu_page.show_order(back)

    @property
    def has_wishes(self) -> bool:
        return super().has_wishes or bool(self.live and self.live.moves)

    def forget_requests(self) -> None:
        super().forget_requests()
        self._trying = self.preview = None

    def action_plan_write(self) -> None:
        """What is carried is placed first."""
        self.menu_page.place()
        super().action_plan_write()


def _is_of(request: Request, session: int) -> bool:
    return request.arranging is not None and request.arranging.session == session

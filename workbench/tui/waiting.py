"""The waiting plan: wishes in the order in which they were made, none of them written yet.

Values only. Each wish was planned on the card as the wishes before it leave it, so dropping from the end is
always safe and dropping from the middle is never offered. Moves in one menu, one after the other, are one
wish: what they come to, with the least renaming.
"""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

from workbench.values import dataclass, field

if TYPE_CHECKING:
    from workbench.changes.plan import Plan
    from workbench.tui.arranging import Arranging
    from workbench.tui.ordering import Ordered, Renames


@dataclass(frozen=True, slots=True)
class Waiting:
    """The wishes that wait to be written."""

    wishes: tuple[Plan, ...] = ()
    arranging: Arranging | None = field(default=None, compare=False)
    """The moves that the last wish came of, if it came of moves; it is missing where they come to nothing."""
    before: Waiting | None = field(default=None, compare=False)
    """What waited before the last wish; None where that is not remembered."""
    renames: Renames = field(default=(), compare=False)
    """Entries that the moves rename: name now, name then."""

    @property
    def plan(self) -> Plan:
        """All wishes as one plan."""
        from workbench.changes.plan import Plan

        return reduce(Plan.then, self.wishes, Plan("", ()))

    def grown(self, wish: Plan) -> Waiting:
        """With one wish more."""
        return Waiting((*self.wishes, wish), None, self)

    def arranged(self, arranging: Arranging, ordered: Ordered) -> Waiting:
        """With moves that come to this wish."""
        wish = ordered.plan
        return Waiting((*self.wishes, wish) if wish.steps else self.wishes, arranging, self, ordered.renames)

    def without_last(self) -> Waiting:
        """Without the last wish."""
        return Waiting(self.wishes[:-1]) if self.before is None else self.before

    def without(self, session: int) -> Waiting:
        """Without the moves of that session, where they came last."""
        mine = self.arranging is not None and self.arranging.session == session
        return self.without_last() if mine else self

    def __bool__(self) -> bool:
        return bool(self.wishes)

"""The waiting plan: wishes in the order in which they were made, none of them written yet.

Values only. Each wish was planned on the card as the wishes before it leave it, so dropping from the end is
always safe and dropping from the middle is never offered.
"""

from __future__ import annotations

from functools import reduce
from typing import TYPE_CHECKING

from workbench.values import dataclass, replace

if TYPE_CHECKING:
    from workbench.changes.plan import Plan


@dataclass(frozen=True, slots=True)
class Waiting:
    """The wishes that wait to be written."""

    wishes: tuple[Plan, ...] = ()

    @property
    def plan(self) -> Plan:
        """All wishes as one plan."""
        from workbench.changes.plan import Plan

        return reduce(Plan.then, self.wishes, Plan("", ()))

    def grown(self, wish: Plan) -> Waiting:
        """With one wish more."""
        return replace(self, wishes=(*self.wishes, wish))

    def without_last(self) -> Waiting:
        """Without the last wish."""
        return replace(self, wishes=self.wishes[:-1])

    def __bool__(self) -> bool:
        return bool(self.wishes)

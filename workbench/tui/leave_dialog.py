"""Asks what becomes of a waiting plan when the workbench is left."""

from __future__ import annotations

from workbench.tui.costs import count_words
from workbench.tui.dialog import Question


class LeaveDialog(Question):
    """A plan waits, and the person wants to leave."""

    def __init__(self, wishes: int) -> None:
        super().__init__(
            "A plan waits",
            f"{count_words(wishes, 'wish is', 'wishes are')} not written yet. The plan is kept and comes "
            "back the next time that this card is opened.",
            {"q": ("leave", "leave"), "w": ("write", "write it first"), "d": ("drop", "drop it and leave")},
        )

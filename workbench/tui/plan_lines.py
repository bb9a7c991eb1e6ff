"""A plan in full, for the confirmation: moved, changed, new, put away; what is in the way."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.paths import VolumePath
from workbench.changes.plan import Plan
from workbench.tui.costs import size_words
from workbench.tui.lines import BLANK, Line
from workbench.tui.outcome import outcome_of


def plan_lines(plan: Plan) -> Iterator[Line]:
    """Everything that a plan does, for the confirmation: one line for each place."""
    outcome = outcome_of(plan)
    for to, start in outcome.moved.items():
        yield Line.of(("moved     ", "strong"), (str(start), "place"))
        yield Line.of(("       to ", "muted"), (_to_words(start, to), "place"))
    for at, size in outcome.changed.items():
        yield Line.of(("changed   ", "strong"), (str(at), "place"), right=[(size_words(size), "muted")])
    for at, size in outcome.new.items():
        yield Line.of(("new       ", "strong"), (str(at), "place"), right=[(size_words(size), "muted")])
    for at in outcome.put_away:
        yield Line.of(("put away  ", "strong"), (str(at), "place"))
    for listing in plan.listings:
        yield Line.of(("order     ", "strong"), (f"{listing.folder} is listed in the order wanted", "plain"))


def _to_words(start: VolumePath, to: VolumePath) -> str:
    """Only the name where the folder stays."""
    return to.name if start.parent == to.parent else to.path


def conflict_lines(plan: Plan) -> Iterator[Line]:
    """What stands in a plan's way."""
    for conflict in plan.conflicts:
        where = f"{conflict.at}, line {conflict.line}" if conflict.line else str(conflict.at)
        yield Line.of(("! in the way ", "problem"), (where, "place"))
        yield Line.of(f"  {conflict.because}")
    if plan.conflicts:
        yield BLANK

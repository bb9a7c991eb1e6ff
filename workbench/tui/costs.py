"""What a plan will do, in verbs and words: moved, changed, new, put away."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.paths import VolumePath
from workbench.changes.plan import Plan
from workbench.tui.lines import BLANK, Line
from workbench.tui.waiting import Outcome, outcome_of


def size_words(count: int) -> str:
    """`811 bytes`, `32 KiB`, `12.3 GiB`."""
    if count < 1024:
        return f"{count} byte{'' if count == 1 else 's'}"
    size = float(count)
    for unit in ("KiB", "MiB", "GiB", "TiB"):
        size /= 1024
        if size < 1024 or unit == "TiB":
            break
    return f"{size:.0f} {unit}" if size >= 100 or size == int(size) else f"{size:.1f} {unit}"


def count_words(count: int, one: str, many: str) -> str:
    """`1 wish`, `3 wishes`."""
    return f"{count} {one if count == 1 else many}"


def cost_words(outcome: Outcome) -> str:
    """`2 moved, 5 changed, 1 new; 14 KiB to write`; what is zero is left out."""
    counts = {
        "moved": len(outcome.moved),
        "changed": len(outcome.changed),
        "new": len(outcome.new),
        "put away": len(outcome.put_away),
    }
    said = ", ".join(f"{count} {verb}" for verb, count in counts.items() if count) or "nothing to do"
    return f"{said}; {size_words(outcome.bytes)} to write" if outcome.bytes else said


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

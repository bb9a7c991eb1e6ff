"""Carries a plan's writes over to files that the device wrote back when its menu was stopped.

What the plan would have made of the old content is made of the new one: each edit is found again by where it
stands, exactly once, or nothing is written at all.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from workbench.card.paths import VolumePath
from workbench.changes.plan import Plan, digest
from workbench.changes.spans import place_edits
from workbench.changes.steps import Step, Write
from workbench.changes.take_back import take_back_edits
from workbench.errors import PreflightError
from workbench.manifests.document import Edit, apply_edits
from workbench.shown import shown
from workbench.values import replace


def rebase(plan: Plan, held: Mapping[VolumePath, bytes], now: Mapping[VolumePath, bytes]) -> Plan:
    """The plan on the files as they are now; `held` is what they were when it was made.

    Raises:
        PreflightError: an edit has no sure place any more; nothing was changed.
    """
    old, new = dict(held), dict(now)
    steps: list[Step] = []
    for step in plan.steps:
        if isinstance(step, Write) and step.at in old and old[step.at] != new[step.at]:
            step = _rebase_step(step, old, new)
        steps.append(step)
    return replace(plan, steps=tuple(steps))


def _rebase_step(step: Write, old: dict[VolumePath, bytes], new: dict[VolumePath, bytes]) -> Write:
    before, content, here = old[step.at], step.content, new[step.at]
    if step.before != digest(before) or not isinstance(content, bytes):
        raise _refusal(step)
    edits = step.edits or tuple(_find_edits(before, content))
    back = tuple(Edit(start, end, before[edit.start : edit.end]) for edit, start, end in place_edits(edits))
    carried = take_back_edits(content, before, here, back)
    if carried is None:
        raise _refusal(step)
    made = apply_edits(here, carried)
    old[step.at], new[step.at] = content, made
    return replace(step, content=made, before=digest(here), edits=carried)


def _find_edits(before: bytes, after: bytes) -> Iterable[Edit]:
    """What differs, line by line."""
    from difflib import SequenceMatcher

    old, new = before.splitlines(keepends=True), after.splitlines(keepends=True)
    at = [0]
    for line in old:
        at.append(at[-1] + len(line))
    for word, i1, i2, j1, j2 in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if word != "equal":
            yield Edit(at[i1], at[i2], b"".join(new[j1:j2]))


def _refusal(step: Write) -> PreflightError:
    return PreflightError(
        f"{shown(str(step.at))} was written back by the device's menu when it was stopped, and the edit has "
        "no sure place in it any more. Nothing was changed; do it again.",
        path=str(step.at),
    )

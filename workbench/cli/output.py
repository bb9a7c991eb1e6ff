"""What the command line prints: sentences for people, the fixed JSON shapes for scripts.

Names that come from a card pass through `shown`, so that a terminal never obeys them. JSON goes out in
ASCII for the same reason.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator, Sequence

from workbench.card.mention import Mention
from workbench.changes.plan import (
    Conflict,
    MakeFolder,
    Move,
    Plan,
    Remove,
    Step,
    Write,
    content_size,
    place_of,
)
from workbench.errors import CardwrightError, NameRefusedError, OrderRefusedError
from workbench.shown import shown
from workbench.typed import Any


def say(text: str = "") -> None:
    """Print a line for a person."""
    print("\n".join(map(shown, text.split("\n"))))


def warn(text: str) -> None:
    """Print a line on standard error."""
    print("\n".join(map(shown, text.split("\n"))), file=sys.stderr)


def drop_output() -> None:
    """Its reader has gone, or its disk is full: what waits to be printed goes nowhere.

    Python would try once more when it ends, and complain.
    """
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def is_agreed(question: str) -> bool:
    """Whether the person says yes, once; asked on standard error."""
    print(f"{question} [y/N] ", end="", file=sys.stderr, flush=True)
    try:
        answer = input()
    except EOFError:
        print(file=sys.stderr)
        return False
    return answer.strip().lower() in ("y", "yes")


def say_json(value: Any) -> None:
    """Print one JSON document; bytes in names that are no UTF-8 come out as escaped lone surrogates."""
    import json

    print(json.dumps(value, indent=1))


def say_error(error: CardwrightError, as_json: bool, beside: dict[str, Any] | None = None) -> None:
    """The sentence on standard error; with `--json` also the error's shape on standard output."""
    place = ""
    if error.path:
        place = error.path.removesuffix(":") + (f", line {error.line}" if error.line else "") + ": "
    warn(f"cardwright: {'' if error.path and error.path in error.message else place}{error.message}")
    if isinstance(error, NameRefusedError) and error.suggestion and error.suggestion not in error.message:
        warn(f"A name that would do: {error.suggestion}")
    if as_json:
        say_json((beside or {}) | {"error": error_shape(error)})


def error_shape(error: CardwrightError) -> dict[str, Any]:
    """`{"kind", "message", "path", "line"}`."""
    shape: dict[str, Any] = {
        "kind": error.kind,
        "message": error.message,
        "path": error.path,
        "line": error.line,
    }
    if isinstance(error, NameRefusedError):
        shape["suggestion"] = error.suggestion
    if isinstance(error, OrderRefusedError):
        shape["nearest"] = list(error.nearest)
    return shape


def plan_shape(plan: Plan, change: int | None) -> dict[str, Any]:
    """The shape of a writing command."""
    return {
        "plan": {
            "title": plan.title,
            "steps": [_step_shape(step) for step in plan.steps],
            "bytes": plan.bytes,
            "notes": list(plan.notes),
        },
        "unruled": [_mention_shape(mention) for mention in plan.unruled],
        "conflicts": [_conflict_shape(conflict) for conflict in plan.conflicts],
        "change": change,
    }


def _step_shape(step: Step) -> dict[str, Any]:
    place = place_of(step)
    shape: dict[str, Any] = {"step": step_word(step), "volume": place.volume, "path": place.path}
    if isinstance(step, Move):
        shape["to"] = step.to.path
    if isinstance(step, Write):
        shape |= {"bytes": content_size(step), "edits": len(step.edits), "new": step.before is None}
    return shape


def step_word(step: Step) -> str:
    """`make-folder`, `write`, `move` or `remove`."""
    return {MakeFolder: "make-folder", Write: "write", Move: "move", Remove: "remove"}[type(step)]


def _mention_shape(mention: Mention) -> dict[str, Any]:
    return {
        "volume": mention.at.volume,
        "path": mention.at.path,
        "line": mention.line,
        "text": mention.text,
        "offset": mention.offset,
    }


def _conflict_shape(conflict: Conflict) -> dict[str, Any]:
    return {
        "volume": conflict.at.volume,
        "path": conflict.at.path,
        "line": conflict.line,
        "because": conflict.because,
        "mendable": conflict.mendable,
    }


def say_plan(plan: Plan) -> None:
    """The whole plan in words: what is moved, changed, new and put away, and what is left as it is."""
    said = [plan.title, *(f"  {sentence}" for sentence in _step_sentences(plan.steps))]
    say("\n".join(said))  # a long plan is printed at one go
    if plan.bytes:
        say(f"  {plan.bytes:,} bytes of new content")
    for note in plan.notes:
        say(f"  {note}")
    if plan.unruled:
        say("Named here too, under no rule of the profile; left as it is:")
        for mention in plan.unruled:
            say(f"  {mention.at}{_where(mention)}: {mention.text.strip()[:100]}")
    if plan.conflicts:
        say("In the way:")
        for conflict in plan.conflicts:
            say(f"  {_conflict_sentence(conflict)}")


def _conflict_sentence(conflict: Conflict) -> str:
    """The place, once: a manifest's own error names it already."""
    if conflict.because.startswith(f"{conflict.at}, line "):
        return conflict.because
    return f"{conflict.at}{f', line {conflict.line}' if conflict.line else ''}: {conflict.because}"


def _where(mention: Mention) -> str:
    if mention.line is not None:
        return f", line {mention.line}"
    return f", byte {mention.offset}" if mention.offset is not None else ""


_MANY = 8
"""So many files of one folder, one after the other and treated alike, are one line."""


def _step_sentences(steps: Sequence[Step]) -> Iterator[str]:
    """A line for each step; one for a run of new, changed or put away files of one folder."""
    from itertools import groupby

    for key, group in groupby(steps, _alike):
        run = list(group)
        if key is None or len(run) < _MANY:
            yield from map(_step_sentence, run)
            continue
        last = place_of(run[-1]).name
        yield f"{_step_sentence(run[0])} … {last} ({len(run)} files)"


def _alike(step: Step) -> tuple[str, object] | None:
    """Equal for steps that may share a line; None for one that stands alone."""
    if isinstance(step, Write) and not step.edits:
        return ("new" if step.before is None else "changed"), step.at.parent
    return ("put away", step.at.parent) if isinstance(step, Remove) else None


def _step_sentence(step: Step) -> str:
    if isinstance(step, Move):
        if step.source.parent == step.to.parent:
            return f"moved    {step.source} becomes {step.to.name}"
        return f"moved    {step.source} to {step.to.path}"
    if isinstance(step, Write):
        places = f" in {len(step.edits)} place{'s' if len(step.edits) != 1 else ''}" if step.edits else ""
        return f"changed  {step.at}{places}" if step.before is not None else f"new      {step.at}"
    if isinstance(step, MakeFolder):
        return f"new      {step.at}/"
    return f"put away {step.at}"

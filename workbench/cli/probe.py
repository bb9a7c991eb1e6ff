"""`cardwright splash CARD probe`: put the test picture up; then, once the device was looked at, its answers.

Run twice: the first run puts the picture up, the second takes the answers (asked, or given as options), puts
the old splash back by undoing that very change, and says what goes into the profile.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, cast

from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.hint import command_line
from workbench.cli.opened import Opened, open_for_writing
from workbench.cli.output import say, warn
from workbench.errors import UsageError
from workbench.values import replace

if TYPE_CHECKING:
    import argparse

    from workbench.changes.plan import Plan
    from workbench.jobs.probe import Bars, ProfileLine

_BARS = ("rgb", "bgr", "none")


def add_probe_arguments(parser: argparse.ArgumentParser) -> None:
    """`--top` and `--bars`."""
    group = parser.add_argument_group("probe: what the device shows of the test picture")
    group.add_argument("--top", metavar="LETTER", help="the letter that stands upright at the top, or none")
    group.add_argument("--bars", choices=_BARS, help="the colours of the bars 1, 2, 3")


def run_probe(args: argparse.Namespace) -> int:
    """Put the picture up, or take the answers, whichever is next."""
    check_consent(args)
    opened = open_for_writing(args)
    moment = args.moment or "start"
    number = _find_standing(opened, moment)
    if number is not None:
        return _finish(args, opened, moment, number)
    if args.top or args.bars:
        raise UsageError(
            f"no test picture of {moment} is up on this card, so there is nothing to answer; nothing was "
            f"changed. Put it up with: {_probe_line(args)}"
        )
    return _put_up(args, opened, moment)


def _put_up(args: argparse.Namespace, opened: Opened, moment: str) -> int:
    from workbench.jobs.probe import asks_bars, plan_probe
    from workbench.jobs.splash import drop_renders

    plan = plan_probe(opened.tree, opened.profile, moment)
    answers = ["--top LETTER"] + (["--bars rgb"] if asks_bars(opened.tree, opened.profile, moment) else [])
    next_run = f"{_probe_line(args)} {' '.join(answers)}"
    plan = replace(plan, notes=(*plan.notes, f"Then answer, and the old splash goes back: {next_run}"))
    try:
        return carry_out(args, opened.card, plan)
    finally:
        drop_renders(plan)


def _finish(args: argparse.Namespace, opened: Opened, moment: str, number: int) -> int:
    """The answers, the old splash, the lines."""
    from workbench.changes.undo import plan_undo
    from workbench.jobs.probe import propose_lines

    top, bars = _answers(args, opened, moment, number)
    lines, remarks = propose_lines(opened.tree, opened.profile, moment, top, bars)
    plan = plan_undo(opened.card, number)
    code = carry_out(args, opened.card, _with_lines(plan, lines, remarks), beside=_shapes(lines))
    if code == 0 and not args.json and lines:
        say(f"For the profile {opened.profile.source}:")
        for line in lines:
            say(f"  {line.sentence()}")
    return code


def _answers(args: argparse.Namespace, opened: Opened, moment: str, number: int) -> tuple[str, Bars]:
    """The two answers: given, or asked for.

    Raises:
        UsageError: one is missing and nobody is there to give it.
    """
    from workbench.jobs.probe import BARS_QUESTION, TOP_QUESTION, asks_bars, rotation_of

    needs_bars = asks_bars(opened.tree, opened.profile, moment)
    if args.top is None or (needs_bars and args.bars is None):
        _check_terminal(args, moment, number, needs_bars)
    top = args.top if args.top is not None else _ask(TOP_QUESTION)
    rotation_of(top)
    bars = args.bars or (_ask(BARS_QUESTION).lower() if needs_bars else "rgb")
    if bars not in _BARS:
        raise UsageError(f"{bars!r} is none of {', '.join(_BARS)}; nothing was changed")
    return top, cast("Bars", bars)


def _probe_line(args: argparse.Namespace) -> str:
    return command_line(args, "splash", "probe", *(("--moment", args.moment) if args.moment else ()))


def _check_terminal(args: argparse.Namespace, moment: str, number: int, needs_bars: bool) -> None:
    if sys.stdin.isatty() and not args.json:
        return
    options = "--top LETTER" + (" and --bars rgb, bgr or none" if needs_bars else "")
    raise UsageError(
        f"the test picture of {moment} is up (change {number}); nothing was changed. Say what the device "
        f"shows with {options}, or put the old splash back with: {command_line(args, 'undo', number)}"
    )


def _ask(question: str) -> str:
    """One line from the terminal; the question goes to standard error, like every other."""
    warn(question)
    try:
        return input("> ").strip()
    except EOFError:
        return ""


def _with_lines(plan: Plan, lines: tuple[ProfileLine, ...], remarks: tuple[str, ...]) -> Plan:
    """The way back, with what the answers could not tell."""
    steady = () if any(line.is_new for line in lines) or remarks else ("The profile is right as it is.",)
    return replace(plan, notes=(*plan.notes, *remarks, *steady))


def _shapes(lines: tuple[ProfileLine, ...]) -> dict[str, Any]:
    return {
        "profile_lines": [
            {"table": line.table, "line": line.line, "because": line.because, "new": line.is_new}
            for line in lines
        ]
    }


def _find_standing(opened: Opened, moment: str) -> int | None:
    """The change that put the test picture up and still stands."""
    from workbench.changes.ledger import read_history
    from workbench.jobs.probe import find_standing

    return find_standing(read_history(opened.card), moment)

"""One road for every command that writes: show the plan, ask once, carry it out, say what happened."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

from workbench.changes.plan import Plan
from workbench.cli.hint import command_line
from workbench.cli.opening_up import (
    agree_to_open,
    describe_locked,
    opened_up,
    refuse_shut,
)
from workbench.cli.output import (
    drop_output,
    is_agreed,
    plan_shape,
    say,
    say_error,
    say_json,
    say_plan,
    warn,
)
from workbench.errors import CardwrightError, UsageError
from workbench.typed import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import argparse

    from workbench.card.volumes import Card
    from workbench.changes.ledger import Change

FIRST_CAUTION = (
    "Before the first change: make a full copy of the card if it holds anything that cannot be had again."
)


class BlockedPlanError(CardwrightError):
    """A plan that cannot be carried out as asked, because of what its conflicts name."""

    kind = "conflict"


def check_consent(args: argparse.Namespace) -> None:
    """Refuse early where nobody could answer the question.

    Raises:
        UsageError: no terminal, and neither `--yes` nor `--dry-run`.
    """
    if not (args.dry_run or args.yes or (sys.stdin.isatty() and not args.json)):
        raise UsageError("this writes to the card: give --yes to carry it out or --dry-run to see the plan")


def carry_out(
    args: argparse.Namespace,
    card: Card,
    plan: Plan,
    *,
    in_part: bool = False,
    beside: Mapping[str, Any] | None = None,
) -> int:
    """Show, ask, apply. Returns the exit code.

    `in_part`: the person asked for what can be done; conflicts are listed and the rest is carried out.
    `beside`: what the JSON says besides the plan.
    """
    plan = _complete(card, plan)
    if plan.conflicts and not in_part:
        return _refuse(args, plan)
    if args.dry_run or not plan.steps:
        _print(args, plan, beside or {})
        for sentence in describe_locked(card, plan.volumes):
            warn(sentence)
        return 0
    refuse_shut(card, plan.volumes)
    if not args.yes:
        say_plan(plan)
        if _is_first(card):
            say(FIRST_CAUTION)
        sys.stdout.flush()
        if not is_agreed("Write this to the card?"):
            say("Nothing was changed.")
            return 1
    locked = agree_to_open(args, card, plan.volumes)
    with unhurried(), opened_up(card, locked) as writable:
        change = _apply(args, writable, plan)
    # Whoever reads the answer may have gone (`| head`), or its disk is full: the change is made all the same.
    try:
        if args.json:
            say_json(plan_shape(plan, change.number) | {"kept_on": change.kept_on or None, **(beside or {})})
        else:
            _say_done(args, plan, change)
        sys.stdout.flush()
    except OSError:
        drop_output()
    return 0


def _complete(card: Card, plan: Plan) -> Plan:
    """With what the device's own programs make necessary."""
    if card.profile is None or not (card.source == "device" or card.profile.device.derived):
        return plan
    from workbench.card.disk_tree import DiskTree
    from workbench.jobs.device_menu import complete_for_device

    return complete_for_device(card, DiskTree(card), plan)


def _refuse(args: argparse.Namespace, plan: Plan) -> int:
    first = plan.conflicts[0]
    more = f" ({len(plan.conflicts) - 1} more in the way)" if len(plan.conflicts) > 1 else ""
    message = f"{first.because.rstrip('.')}{more}; nothing was changed"
    mends = [command_line(args, "manifest", one.at, "mend") for one in plan.conflicts if one.mendable]
    if mends:
        message += f". Look at the proposed mend with: {mends[0]} --dry-run"
    error = BlockedPlanError(message, path=str(first.at), line=first.line)
    if not args.json:
        say_plan(plan)
        for mend in mends:
            say(f"To mend it: {mend}")
    say_error(error, args.json, plan_shape(plan, None))
    return error.exit_code


def _print(args: argparse.Namespace, plan: Plan, beside: Mapping[str, Any]) -> None:
    if args.json:
        say_json({**plan_shape(plan, None), **beside})
        return
    say_plan(plan)
    say("Nothing was written." if plan.steps else "Nothing needs to change.")


def _say_done(args: argparse.Namespace, plan: Plan, change: Change) -> None:
    if args.yes:
        say_plan(plan)
        if change.number == 1:
            say(FIRST_CAUTION)
    if change.kept_on:
        say(f"What it replaced is kept in {change.kept_on} on this computer, not on the card; undo needs it.")
    opening = ("--open-read-only",) if getattr(args, "open_read_only", False) else ()
    undo = command_line(args, "undo", change.number, *opening)
    say(f"Done: change {change.number}. Take it back with: {undo}")


def _is_first(card: Card) -> bool:
    from workbench.changes.ledger import read_history

    return not read_history(card)


def _apply(args: argparse.Namespace, card: Card, plan: Plan) -> Change:
    from workbench.changes.apply import apply

    if card.source != "device":
        return apply(card, plan, keep_on=keep_folder(args))
    from workbench.changes.quiet_device import quiet_device

    with quiet_device(card, plan) as quiet:
        change = apply(card, quiet.plan, keep_on=keep_folder(args))
    for note in quiet.notes:
        warn(note)
    return change


def keep_folder(args: argparse.Namespace) -> Path | None:
    """The folder that `--keep-on` names."""
    named = getattr(args, "keep_on", None)
    return Path(named) if named else None


@contextlib.contextmanager
def unhurried() -> Iterator[None]:
    """A key or a lost connection does not stop a change half way; it would only have to be recovered."""
    import signal

    names = [name for name in ("SIGINT", "SIGHUP", "SIGTERM") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), signal.SIG_IGN) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)

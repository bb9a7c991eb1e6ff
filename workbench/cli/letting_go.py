"""`cardwright history CARD --let-go N…`: kept copies go, after a look at what can then not be undone."""

from __future__ import annotations

import argparse
import re
import sys
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_consent_arguments
from workbench.cli.carrying import check_consent, unhurried
from workbench.cli.opened import open_for_writing
from workbench.cli.opening_up import agree_to_open, opened_up
from workbench.cli.output import drop_output, is_agreed, say, say_json
from workbench.errors import UsageError
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.changes.let_go import Choice, Farewell, LettingGo


WAYS = ("let-go", "let-go-before", "let-go-all-but", "let-go-older", "let-go-to-free")
"""Options that choose changes; one at a time."""

_UNITS = {"": 1, "K": 1 << 10, "M": 1 << 20, "G": 1 << 30}


def add_letting_go_arguments(parser: argparse.ArgumentParser) -> None:
    """`--let-go`, `--let-go-before`, `--let-go-all-but`, and what every writing command takes."""
    group = parser.add_argument_group(
        "letting go of kept copies (frees room on the card; what they hold cannot be had again)"
    )
    group.add_argument(
        "--let-go",
        metavar="N",
        action="append",
        default=[],
        type=_names,
        help="of this change: its number, `3-6`, `3,5` or its id; may be given again",
    )
    group.add_argument("--let-go-before", metavar="N", type=_whole, help="of all changes before number N")
    group.add_argument("--let-go-all-but", metavar="K", type=_whole, help="of all but the last K changes")
    group.add_argument(
        "--let-go-older", metavar="DAYS", type=_whole, help="of the first changes, while they are that old"
    )
    group.add_argument(
        "--let-go-to-free",
        metavar="SIZE",
        type=_size,
        help="of the oldest changes, until SIZE is free again: bytes, or 20M, 1.5G",
    )
    add_consent_arguments(parser)


def is_asked_to_let_go(args: argparse.Namespace, *names: str) -> bool:
    """Whether one of these options (of all, where none is named) was given."""
    given = (getattr(args, name.replace("-", "_")) for name in names or WAYS)
    return any(value is not None and value != [] for value in given)


def run_letting_go(args: argparse.Namespace) -> int:
    """Show, ask, remove. Returns the exit code."""
    from workbench.changes.let_go import let_go, plan_letting_go

    choose = _read_choice(args)
    check_consent(args)
    letting_go = plan_letting_go(open_for_writing(args).card, choose, enough=args.let_go_to_free)
    roles = [role for one in letting_go.farewells for role in one.volumes]
    if not args.json:
        _say(letting_go)
    if args.dry_run:
        return _end(args, letting_go, "Nothing was removed.")
    sys.stdout.flush()
    if not args.yes and not is_agreed("Remove these copies for good?"):
        say("Nothing was removed.")
        return 1
    locked = agree_to_open(args, letting_go.card, roles)
    with unhurried(), opened_up(letting_go.card, locked) as writable:
        let_go(replace(letting_go, card=writable))
    try:  # whoever reads the answer may have gone; the copies are gone all the same
        _end(args, letting_go, f"Removed: {letting_go.bytes_freed:,} bytes of kept copies.", done=True)
        sys.stdout.flush()
    except OSError:
        drop_output()
    return 0


def _end(args: argparse.Namespace, letting_go: LettingGo, sentence: str, *, done: bool = False) -> int:
    if args.json:
        say_json(_shape(letting_go, done=done))
    else:
        say(sentence)
    return 0


def _read_choice(args: argparse.Namespace) -> Choice:
    from workbench.changes.let_go import (
        choose_all,
        choose_all_but,
        choose_before,
        choose_named,
        choose_older,
    )

    if sum(is_asked_to_let_go(args, name) for name in WAYS) > 1:
        raise UsageError(f"give one of {', '.join(f'--{name}' for name in WAYS)}")
    if args.let_go:
        return choose_named([name for names in args.let_go for name in names])
    if args.let_go_before is not None:
        return choose_before(args.let_go_before)
    if args.let_go_older is not None:
        return choose_older(args.let_go_older)
    return choose_all if args.let_go_to_free is not None else choose_all_but(args.let_go_all_but)


def _say(letting_go: LettingGo) -> None:
    say(letting_go.title)
    for one in letting_go.farewells:
        undone = f", taken back by change {one.undone_by}" if one.undone_by is not None else ""
        say(f"  change {one.number} ({one.title}{undone}): {one.bytes_freed:,} bytes; {one.consequence}")
    for number, why in letting_go.passed_over:
        say(f"  change {number} keeps its copies: {why}")
    say(f"  {letting_go.bytes_freed:,} bytes in all; the record of each change stays in the history")


def _shape(letting_go: LettingGo, *, done: bool) -> dict[str, Any]:
    """The shape of a writing command; letting go is no change, so it has no number."""
    return {
        "plan": {
            "title": letting_go.title,
            "steps": [
                {
                    "step": "let-go",
                    "volume": role,
                    "path": f".cardwright/changes/{one.id}",
                    "number": one.number,
                }
                for one in letting_go.farewells
                for role in one.volumes
            ],
            "bytes": 0,
        },
        "unruled": [],
        "conflicts": [],
        "change": None,
        "bytes_freed": letting_go.bytes_freed,
        "let_go": [_farewell_shape(one) for one in letting_go.farewells],
        "passed_over": [{"number": number, "because": why} for number, why in letting_go.passed_over],
        "done": done,
    }


def _farewell_shape(one: Farewell) -> dict[str, Any]:
    return {
        "number": one.number,
        "id": one.id,
        "title": one.title,
        "bytes_freed": one.bytes_freed,
        "undo": "whole" if not one.lost else "in part" if one.remains else "none",
        "lost": [{"volume": place.volume, "path": place.path} for place in one.lost],
    }


def _names(text: str) -> list[int | str | range]:
    """`3`, `3-6`, `3,5`, or an id (`0007-3f2ac1`)."""
    names: list[int | str | range] = []
    for part in text.split(","):
        if re.fullmatch(r"[0-9]{4,}-[0-9a-f]{6}", part):
            names.append(part)
        elif re.fullmatch(r"[0-9]{1,9}", part):
            names.append(int(part))
        elif re.fullmatch(r"[0-9]{1,9}-[0-9]{1,9}", part):
            first, _, last = part.partition("-")
            names.append(range(int(first), int(last) + 1))
        else:
            raise argparse.ArgumentTypeError(f"{part!r} is no change's number, range of numbers, or id")
    return names


def _size(text: str) -> int:
    found = re.fullmatch(r"([0-9]{1,12}(?:\.[0-9]{1,3})?)([KMG]?)(?:i?B)?", text, re.ASCII)
    if found is None:
        raise argparse.ArgumentTypeError(f"{text!r} is no size, like 500K, 20M or 1.5G")
    return int(float(found[1]) * _UNITS[found[2]])


def _whole(text: str) -> int:
    if not (text.isascii() and text.isdigit()):
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number")
    return int(text)

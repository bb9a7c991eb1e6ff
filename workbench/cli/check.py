"""`cardwright check CARD`: what is wrong with a card, and mending it as one plan.

Exit 4 where anything is found at or above `--level`.
"""

from __future__ import annotations

import argparse
import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.hint import command_line
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.jobs.check.finding import LEVELS, Finding, Level, is_at_least

if TYPE_CHECKING:
    from workbench.card.health import CardHealth
    from workbench.jobs.check.mending import Mending
    from workbench.jobs.health import Share

MOST_OF_A_RULE = 12
"""Findings of one rule that are listed for a person; `--all` lists every one."""
FOUND = 4


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument(
        "--level",
        choices=LEVELS,
        default="warning",
        help="exit 4 where anything is found that is as grave as this, or graver (warning)",
    )
    parser.add_argument(
        "--mend",
        nargs="*",
        action="extend",
        metavar="RULE",
        help="mend what these rules found; alone: everything",
    )
    parser.add_argument(
        "--read-all", action="store_true", help="read every file, and look at what plays at start"
    )
    parser.add_argument("--space", action="store_true", help="also say what takes the room on the card")
    parser.add_argument("--all", action="store_true", help="list every finding, however many there are")
    parser.add_argument("--rules", action="store_true", help="list the rules, and look at nothing")
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.rules:
        return _list_rules(args)
    if args.mend is not None:
        return _mend(args)
    opened = open_for_reading(args)
    health = read_whole_health(opened, is_thorough=args.read_all)
    found = _check(opened, health, is_thorough=args.read_all)
    shares = _measure(opened, health) if args.space else ()
    if args.json:
        said: dict[str, Any] = {"findings": [finding_shape(one) for one in found]}
        said |= {"volumes": [_volume_shape(one) for one in health.volumes]}
        say_json(said | ({"space": [_share_shape(one) for one in shares]} if args.space else {}))
    else:
        _say_findings(args, found)
        _say_health(health)
        _say_shares(shares)
    return FOUND if any(is_at_least(one.level, args.level) for one in found) else 0


def read_whole_health(opened: Opened, *, is_thorough: bool = False) -> CardHealth:
    """Volumes and ledger."""
    from workbench.card.health import read_health
    from workbench.changes.ledger_health import read_ledger_health

    ledger = read_ledger_health(opened.card, is_thorough=is_thorough)
    return read_health(opened.card).with_ledger(ledger)


def _check(opened: Opened, health: CardHealth, *, is_thorough: bool = False) -> tuple[Finding, ...]:
    from workbench.jobs.check.checking import check_card

    return check_card(opened.tree, opened.profile, health, is_thorough=is_thorough)


def _list_rules(args: argparse.Namespace) -> int:
    from workbench.jobs.check.registry import RULES

    if args.json:
        rules = [{"rule": one.name, "level": one.level, "words": one.words} for one in RULES.values()]
        say_json({"rules": rules})
        return 0
    for rule in RULES.values():
        say(f"{rule.name:<24} {rule.level:<8} {rule.words}")
    return 0


# Mending


def _mend(args: argparse.Namespace) -> int:
    from workbench.cli.carrying import carry_out, check_consent
    from workbench.jobs.check.mending import plan_mends
    from workbench.jobs.check.registry import require_rules

    check_consent(args)
    wanted = require_rules(tuple(args.mend))
    opened = open_for_writing(args)
    found = [one for one in _check(opened, read_whole_health(opened)) if one.rule in wanted]
    mending = plan_mends(opened.tree, opened.profile, found)
    left = [finding_shape(one.finding) | {"because": one.because} for one in mending.left]
    beside = {
        "mended": [finding_shape(one) for one in mending.mended],
        "left": left,
        "findings": [finding_shape(one) for one in found],
    }
    code = carry_out(args, opened.card, mending.plan, beside=beside)
    if not args.json:
        _say_left(args, mending, found)
    return code


def _say_left(args: argparse.Namespace, mending: Mending, found: Sequence[Finding]) -> None:
    for one in mending.left:
        say(f"Left as it is: {_place(one.finding)}: {one.because}")
    by_hand = sum(1 for one in found if not one.is_mendable and is_at_least(one.level, args.level))
    if by_hand:
        say(f"{_count(by_hand, 'finding')} can only be mended by hand. See: {command_line(args, 'check')}")


# For people


def _say_findings(args: argparse.Namespace, found: Sequence[Finding]) -> None:
    """Rule by rule, the gravest first; what is below the level asked for is only counted."""
    listed = [one for one in found if is_at_least(one.level, args.level)]
    for (level, rule), group in itertools.groupby(listed, key=lambda one: (one.level, one.rule)):
        _say_group(args, level, rule, list(group))
    below = len(found) - len(listed)
    if listed:
        say()
    say(_sum_up(found))
    if below:
        lowest = LEVELS[-1]
        say(f"{_count(below, 'finding')} less grave not listed: {_again(args, '--level', lowest)}")
    mendable = sum(1 for one in found if one.is_mendable)
    if mendable:
        say(f"{mendable} of them can be mended. Look at the plan with: {_again(args, '--mend', '--dry-run')}")


def _again(args: argparse.Namespace, *options: str) -> str:
    return command_line(args, "check", *options)


def _say_group(args: argparse.Namespace, level: Level, rule: str, group: Sequence[Finding]) -> None:
    from workbench.jobs.check.registry import RULES

    say(f"{level}: {rule} ({len(group)}): {RULES[rule].words}")
    most = len(group) if args.all else MOST_OF_A_RULE
    for one in group[:most]:
        mend = f"  [mend: {one.remedy.words}]" if one.remedy is not None else ""
        say(f"  {_place(one)}: {one.message}{mend}")
    if len(group) > most:
        say(f"  … and {len(group) - most} more; list them with --all")


def _place(one: Finding) -> str:
    return f"{one.at}, line {one.line}" if one.line is not None else f"{one.at}"


def _sum_up(found: Sequence[Finding]) -> str:
    counts = [(sum(1 for one in found if one.level == level), level) for level in LEVELS]
    if not found:
        return "Nothing is wrong with this card, as far as the rules can tell."
    return ", ".join(_count(count, level) for count, level in counts if count) + "."


def _count(count: int, word: str) -> str:
    return f"1 {word}" if count == 1 else f"{count:,} {word}s"


def _say_health(health: CardHealth) -> None:
    for volume in health.volumes:
        if volume.because:
            say(f"Whether {volume.role} was closed in order is not known: {volume.because}.")


def _say_shares(shares: Sequence[Share]) -> None:
    for share in shares:
        say(f"{share.bytes:>16,} bytes  {share.words}")


# For scripts


def finding_shape(one: Finding) -> dict[str, Any]:
    """`{"rule", "level", "volume", "path", "line", "message", "mendable"}`."""
    return {
        "rule": one.rule,
        "level": one.level,
        "volume": one.at.volume,
        "path": one.at.path,
        "line": one.line,
        "message": one.message,
        "mendable": one.is_mendable,
        "mend": one.remedy.words if one.remedy is not None else None,
    }


def _volume_shape(volume: Any) -> dict[str, Any]:
    return {
        "role": volume.role,
        "read_only": volume.read_only or None,
        "cleanness": volume.cleanness,
        "because": volume.because or None,
        "errors": volume.error_count,
        "larger_than_device": volume.is_larger_than_device,
        "lost_folders": list(volume.lost_folders),
    }


def _measure(opened: Opened, health: CardHealth) -> tuple[Share, ...]:
    from workbench.jobs.health import measure_space

    kept = health.ledger.kept_bytes if health.ledger is not None else 0
    return measure_space(opened.tree, opened.profile, health.volumes, kept)


def _share_shape(share: Any) -> dict[str, Any]:
    return {"what": share.what, "bytes": share.bytes, "words": share.words}

"""`cardwright routine run FILE CARD…`: the same wishes on many cards, or recorded from one card."""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_profile_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import open_for_reading, open_for_writing
from workbench.cli.output import error_shape, is_agreed, say, say_json, warn
from workbench.errors import CardwrightError, UsageError

if TYPE_CHECKING:
    from workbench.changes.plan import Plan
    from workbench.jobs.routine.routine_file import Routine

Row = dict[str, Any]
_WORDS = {
    "done": "done",
    "planned": "would change",
    "nothing": "nothing to do",
    "refused": "REFUSED",
    "unfinished": "UNFINISHED",
}


def add_arguments(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("act", choices=("run",))
    parser.add_argument("file", metavar="FILE", help="the routine, a TOML list of wishes")
    parser.add_argument("cards", metavar="CARD", nargs="+", help="volume labels, mount points or folders")
    parser.add_argument(
        "--record",
        action="store_true",
        help="write FILE from the history of the one CARD, instead of running it",
    )
    parser.add_argument(
        "--from", dest="first", type=int, default=1, metavar="N", help="record: from change N on"
    )
    parser.add_argument("--at-once", type=int, default=4, metavar="N", help="how many cards at a time (4)")
    add_profile_arguments(parser)
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.record:
        return _record(args)
    check_consent(args)
    from workbench.jobs.routine.routine_file import read_routine

    routine = read_routine(Path(args.file))
    if len(args.cards) == 1:
        return _run_one(args, routine)
    if args.volume:
        raise UsageError("--volume says where one card's volume is; run the routine on that card alone")
    return _run_many(args, routine)


# One card


def _run_one(args: argparse.Namespace, routine: Routine) -> int:
    args.card = args.cards[0]
    if args.json:
        row, code = _carry_one(args, routine)
        say_json({"routine": routine.name, "cards": [row]})
        return code
    from workbench.jobs.renders import drop_renders

    plan = _plan(args, routine)
    try:
        return carry_out(args, args.opened.card, plan)
    finally:
        drop_renders(plan)


def _plan(args: argparse.Namespace, routine: Routine) -> Plan:
    from workbench.changes.brought import read_traces
    from workbench.jobs.routine.carrying import plan_routine

    args.opened = open_for_writing(args)
    return plan_routine(args.opened.tree, args.opened.profile, routine, read_traces(args.opened.card))


def _carry_one(args: argparse.Namespace, routine: Routine) -> tuple[Row, int]:
    """The card's row of the sheet; whatever is refused is told in it."""
    from workbench.jobs.renders import drop_renders

    printed = io.StringIO()
    try:
        plan = _plan(args, routine)
        try:
            with contextlib.redirect_stdout(printed):
                code = carry_out(args, args.opened.card, plan)
        finally:
            drop_renders(plan)
    except CardwrightError as error:
        warn(f"{args.card}: {error.message}")
        return _row(args.card, "refused", {"error": error_shape(error)}, error.exit_code), error.exit_code
    found = json.loads(printed.getvalue())
    if "error" in found:
        return _row(args.card, "refused", found, code), code
    steps = len(found["plan"]["steps"])
    state = "nothing" if not steps else "planned" if found["change"] is None else "done"
    return _row(args.card, state, found, code) | {"steps": steps}, code


def _row(card: str, state: str, found: Row, code: int) -> Row:
    if code == 3:
        state = "unfinished"
    row = {
        "card": card,
        "state": state,
        "steps": 0,
        "change": found.get("change"),
        "error": found.get("error"),
    }
    return row | {key: found[key] for key in ("plan", "unruled", "conflicts") if key in found}


# Many cards


def _run_many(args: argparse.Namespace, routine: Routine) -> int:
    rows = _run_each(args, args.cards, "--dry-run")
    to_write = [row["card"] for row in rows if row["state"] == "planned"]
    if not args.dry_run and to_write:
        if not args.yes:
            _say_sheet(routine, rows)
            sys.stdout.flush()
            if not is_agreed(f"Write this to {len(to_write)} cards?"):
                say("Nothing was changed.")
                return 1
        written = {row["card"]: row for row in _run_each(args, to_write, "--yes")}
        rows = [written.get(row["card"], row) for row in rows]
    if args.json:
        say_json({"routine": routine.name, "cards": rows})
    else:
        _say_sheet(routine, rows)
    states = {row["state"] for row in rows}
    return 3 if "unfinished" in states else 1 if "refused" in states else 0


def _run_each(args: argparse.Namespace, cards: list[str], consent: str) -> list[Row]:
    """A process for each card, some at a time: none can hold another up, or take it down."""
    from concurrent.futures import ThreadPoolExecutor

    with ThreadPoolExecutor(max(1, args.at_once)) as pool:
        return list(pool.map(lambda card: _run_apart(args, card, consent), cards))


def _run_apart(args: argparse.Namespace, card: str, consent: str) -> Row:
    import subprocess

    words = [sys.executable, "-m", "workbench", "routine", "run", consent, "--json"]
    words += ["--profile", args.profile] if args.profile else []
    words += ["--keep-on", args.keep_on] if args.keep_on else []
    words += ["--open-read-only"] if args.open_read_only else []
    ended = subprocess.run(
        [*words, "--", args.file, card], stdin=subprocess.DEVNULL, capture_output=True, check=False
    )
    try:
        row: Row = json.loads(ended.stdout)["cards"][0]
    except (ValueError, KeyError, IndexError):
        said = ended.stderr.decode("utf-8", "replace").strip().splitlines()
        message = said[-1] if said else f"the process for it ended with {ended.returncode}"
        error = {"kind": "process", "message": message, "path": None, "line": None}
        row = _row(card, "refused", {"error": error}, ended.returncode)
    return row


def _say_sheet(routine: Routine, rows: list[Row]) -> None:
    say(f"Routine: {routine.name}")
    width = max(len(row["card"]) for row in rows)
    for row in rows:
        about = _WORDS[row["state"]]
        if row["change"] is not None:
            about += f" (change {row['change']}, {row['steps']} steps)"
        elif row["state"] == "planned":
            about += f" ({row['steps']} steps)"
        if row["error"]:
            about += f": {row['error']['message']}"
        say(f"  {row['card']:<{width}}  {about}")


# Recording


def _record(args: argparse.Namespace) -> int:
    """Write the routine that the card's history comes to; a file is replaced only with `--yes`."""
    from workbench.changes.wishes import record_wishes
    from workbench.host.safe_write import write_safely
    from workbench.jobs.routine.routine_file import wish_from_ledger, write_routine

    if len(args.cards) != 1:
        raise UsageError("--record takes the history of one card")
    args.card = args.cards[0]
    target = Path(args.file)
    if target.exists() and not (args.yes or args.dry_run):
        raise UsageError(f"{target} is there already; give --yes to replace it", path=str(target))
    found = record_wishes(open_for_reading(args).card, args.first)
    wishes = [wish_from_ledger(one) for one in found.wishes]
    left = [
        *found.left,
        *(f"{one.get('do')}" for one, w in zip(found.wishes, wishes, strict=True) if w is None),
    ]
    known = [wish for wish in wishes if wish is not None]
    if not known:
        raise CardwrightError("nothing in this card's history can be said as a routine; no file was written")
    text = write_routine(target.stem, known, left, target.absolute().parent)
    if not args.dry_run:
        write_safely(target.absolute(), text.encode("utf-8"), 0o644)
    if args.json:
        say_json({"routine": text, "wishes": len(known), "left": left})
        return 0
    say(text.rstrip() if args.dry_run else f"{len(known)} wishes are written to {target}.")
    for sentence in left:
        warn(f"Left out: {sentence}")
    return 0

"""`cardwright splash CARD show | put PICTURE | blank | kept | restore [N] | probe`."""

from __future__ import annotations

from pathlib import Path

from workbench.card.paths import VolumePath
from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.cli.plain_words import YES_OR_NO
from workbench.cli.probe import add_probe_arguments, run_probe
from workbench.errors import CardwrightError, UsageError
from workbench.typed import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import argparse
    from collections.abc import Callable

    from PIL.Image import Image

    from workbench.changes.plan import Plan
    from workbench.media.kind_reader import Hint


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("act", choices=("show", "put", "blank", "kept", "restore", "probe"))
    parser.add_argument("what", nargs="?", help="put: the picture; restore: the number that `kept` shows")
    parser.add_argument("--moment", help="start, charging, low-battery, shutdown or all (default: start)")
    parser.add_argument("--fit", choices=("contain", "cover", "stretch", "centre"), default="contain")
    parser.add_argument(
        "--background", default="#000000", metavar="COLOUR", help="around the picture, or of a blank"
    )
    parser.add_argument(
        "--dither",
        choices=("none", "ordered", "diffuse"),
        default="ordered",
        help="for splashes of few colours",
    )
    _add_kind_arguments(parser)
    add_probe_arguments(parser)
    add_writing_arguments(parser)


def _add_kind_arguments(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("another kind than the one that is there (only if the device reads it)")
    group.add_argument("--container", choices=("bmp", "png", "jpeg", "raw"))
    group.add_argument("--bits", type=int, choices=(8, 16, 24, 32))
    group.add_argument(
        "--masks", choices=("565", "555", "8888", "565-swapped", "555-swapped", "8888-swapped")
    )
    group.add_argument("--rows", choices=("bottom-up", "top-down"))
    group.add_argument("--gzip", action=YES_OR_NO)


def run(args: argparse.Namespace) -> int:
    if args.act == "show":
        return _show(args)
    if args.act == "kept":
        return _say_kept(args)
    if args.act == "probe":
        return run_probe(args)
    from workbench.jobs.splash import drop_renders

    check_consent(args)
    opened, plan = _open_and_plan(args)
    try:
        return carry_out(args, opened.card, plan)
    finally:
        drop_renders(plan)


def _open_and_plan(args: argparse.Namespace) -> tuple[Opened, Plan]:
    if args.act == "restore":
        opened = open_for_writing(args)
        return opened, _plan_restore(args, opened)
    from contextlib import nullcontext

    from workbench.cli.ahead import doing_ahead, importing_ahead
    from workbench.media.late_logging import load_image_files
    from workbench.media.tag_tables import postpone_tag_tables

    postpone_tag_tables()
    load_image_files()
    # The picture is decoded while the card is opened, and what writes to it is imported while Pillow and zlib
    # are at work.
    with doing_ahead(lambda: _read_plain(args)) as picture:
        opened = open_for_writing(args)
        with nullcontext() if args.dry_run else importing_ahead("workbench.changes.apply"):
            if args.act == "blank":
                return opened, _plan_blank(args, opened)
            return opened, _plan_put(args, opened, picture)


def _read_plain(args: argparse.Namespace) -> Image | None:
    from workbench.jobs.user_picture import read_plain

    return read_plain(Path(args.what)) if args.act == "put" and args.what else None


def _show(args: argparse.Namespace) -> int:
    from workbench.jobs.splash import show, show_all

    opened = open_for_reading(args)
    one = args.moment not in (None, "all")
    reports = (
        (show(opened.tree, opened.profile, args.moment),) if one else show_all(opened.tree, opened.profile)
    )
    if args.json:
        shapes = [
            {
                "moment": report.moment,
                "volume": report.at.volume,
                "path": report.at.path,
                "standing": report.standing,
                "kind": report.sentence,
            }
            for report in reports
        ]
        say_json({"splashes": shapes})
        return 0
    for report in reports:
        say(f"{report.moment}  {report.at}  {report.sentence}")
    return 0


def _moment(args: argparse.Namespace) -> str:
    return args.moment or "start"


def _plan_put(args: argparse.Namespace, opened: Opened, picture: Callable[[], Image | None]) -> Plan:
    from workbench.jobs.splash import plan_put, read_safely

    if not args.what:
        raise UsageError("splash put needs a picture: cardwright splash CARD put PICTURE")
    return plan_put(
        opened.tree,
        opened.profile,
        (_moment(args),),
        Path(args.what),
        fit=args.fit,
        background=args.background,
        dither=args.dither,
        kind=_kind(args),
        read=lambda path, wanted: picture() or read_safely(path, wanted),
    )


def _plan_blank(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.splash import plan_blank

    return plan_blank(opened.tree, opened.profile, (_moment(args),), args.background, kind=_kind(args))


def _kind(args: argparse.Namespace) -> Hint:
    """What shall differ from the kind that is there."""
    wished = {key: getattr(args, key) for key in ("container", "bits", "masks", "rows", "gzip")}
    return {key: value for key, value in wished.items() if value is not None}


def _plan_restore(args: argparse.Namespace, opened: Opened) -> Plan:
    from workbench.jobs.splash import plan_restore

    kept = _kept(opened, _moment(args))
    if not kept:
        raise CardwrightError(f"no splash of {_moment(args)} was replaced on this card; nothing was changed")
    number = int(args.what) if args.what and args.what.isdigit() else None
    if args.what and number is None:
        raise UsageError(f"splash restore takes a number that `kept` shows, not {args.what!r}")
    chosen = [version for version in kept if number is None or version.number == number]
    if not chosen:
        known = ", ".join(str(version.number) for version in kept)
        raise CardwrightError(f"change {number} kept no splash of {_moment(args)}; these did: {known}")
    return plan_restore(opened.tree, opened.profile, _moment(args), chosen[-1].read())


def _kept(opened: Opened, moment: str) -> list[Any]:
    """Every earlier content of the moment's file, oldest first."""
    from workbench.changes.ledger import kept_versions
    from workbench.jobs.splash_target import choose_rules

    rule = choose_rules(opened.profile, (moment,))[0]
    return list(kept_versions(opened.card, VolumePath(rule.file.volume, rule.file.path)))


def _say_kept(args: argparse.Namespace) -> int:
    opened = open_for_reading(args)
    moments = (
        [rule.moment for rule in opened.profile.splashes] if args.moment in (None, "all") else [args.moment]
    )
    kept = [(moment, version) for moment in moments for version in _kept(opened, moment)]
    if args.json:
        shapes = [
            {
                "moment": moment,
                "number": version.number,
                "time": version.time,
                "sha256": version.sha256,
                "let_go": version.let_go,
            }
            for moment, version in kept
        ]
        say_json({"kept": shapes})
        return 0
    if not kept:
        say("No splash was replaced on this card.")
    for moment, version in kept:
        gone = "  let go: it cannot be put back any more" if version.let_go else ""
        say(f"{version.number:>4}  {version.time}  {moment}  {version.sha256[:12]}{gone}")
    return 0

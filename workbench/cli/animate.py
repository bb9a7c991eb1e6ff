"""`cardwright animate CARD SOURCE --name N …`: a clip becomes a boot animation."""

from __future__ import annotations

import argparse
import sys
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import Opened, open_for_writing
from workbench.cli.output import say
from workbench.cli.watching import Watch
from workbench.errors import MediaError, UsageError
from workbench.jobs.amounts import read_crop, read_delay, read_number, read_time, read_times, read_whole
from workbench.values import replace

if TYPE_CHECKING:
    from workbench.jobs.animate import AnimateWish, PlannedAnimation


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument(
        "source", metavar="SOURCE", help="a video, an animated picture, or a folder of pictures"
    )
    parser.add_argument(
        "--name", help="what the animation is called on the card (default: the clip's own name)"
    )
    _add_clip_arguments(parser)
    _add_card_side_arguments(parser)
    add_writing_arguments(parser)


def _add_clip_arguments(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("the clip (times in seconds, or M:S)")
    group.add_argument("--start", metavar="TIME", help="where to begin")
    group.add_argument("--length", metavar="TIME", help="how much of the clip (default: to its end)")
    group.add_argument("--speed", metavar="X", help="2 shows it twice as fast")
    group.add_argument("--crop", metavar="X,Y,W,H", help="this part of the picture only")
    group.add_argument("--fit", choices=("contain", "cover", "stretch"), default="contain")
    group.add_argument("--background", default="#000000", metavar="COLOUR")
    group.add_argument("--hold", metavar="START,END", help="let the first and the last picture stand")
    group.add_argument("--fade", metavar="IN,OUT", help="from and to the background")
    group.add_argument("--dim", metavar="X", help="multiply all brightness, 0 to 1")
    group.add_argument("--sound", metavar="FILE", help="a sound of its own, or none")
    group.add_argument("--loudness", metavar="LUFS", help="level the sound to this loudness, such as -23")


def _add_card_side_arguments(parser: argparse.ArgumentParser) -> None:
    group = parser.add_argument_group("on the device")
    group.add_argument("--delay", metavar="MS", help="from one frame to the next, as the device shows them")
    group.add_argument("--rate", metavar="FPS", help="the same in frames a second")
    group.add_argument(
        "--loops", metavar="N", help="how often it plays, where the device has a setting for it"
    )
    group.add_argument("--colours", metavar="N", help="at most so many colours in a frame (2 to 256)")
    group.add_argument("--dither", choices=("none", "ordered", "diffuse"), default="none")
    group.add_argument("--label", help="what the device shows for it")
    group.add_argument("--author", help="whose work it is")
    group.add_argument("--art-frame", metavar="N", help="which frame becomes its art, counted from 0")
    group.add_argument("--choose", action="store_true", help="let it play at start")
    group.add_argument(
        "--budget", metavar="8MB|6s", help="most room on the card, most time at start, or both"
    )
    group.add_argument(
        "--remedy", choices=("slower", "dimmed", "shortened"), help="where it flashes too much"
    )
    group.add_argument(
        "--accept-flashes", action="store_true", help="write it though the examination for flashes fails"
    )


def run(args: argparse.Namespace) -> int:
    from workbench.jobs.animate import default_name, plan_animate
    from workbench.jobs.renders import drop_renders

    wish = read_wish(args)
    check_consent(args)
    opened = open_for_writing(args)
    if not args.name:
        wish = replace(wish, name=default_name(opened.profile, wish.source))
    watch = Watch(is_quiet=args.json or not sys.stderr.isatty())
    with watch.watching():
        planned = plan_animate(
            opened.tree,
            opened.profile,
            wish,
            unit=unit_of(opened),
            progress=watch.progress,
            cancelled=watch.cancelled,
        )
    try:
        if not args.json:
            for line in planned.report.lines():
                say(line)
        _refuse_flashes(args, planned)
        return carry_out(args, opened.card, planned.plan, beside={"report": planned.report.shape()})
    finally:
        drop_renders(planned.plan)


def unit_of(opened: Opened) -> int:
    """Bytes of an allocation unit where the profile's animations lie."""
    rule = opened.profile.animation
    if rule is None or rule.folder.volume not in opened.tree.roles():
        return 4096
    return opened.card.volume(rule.folder.volume).cluster_bytes


def read_wish(args: argparse.Namespace) -> AnimateWish:
    """The wish that the options say.

    Raises:
        UsageError: an option is no amount of its kind.
    """
    from workbench.jobs.animate import AnimateWish, parse_budget
    from workbench.media.colours import parse_colour

    source = Path(args.source)
    hold, fade = (
        read_times(given, f"--{word}")
        for word, given in (("hold", args.hold or "0"), ("fade", args.fade or "0"))
    )
    return AnimateWish(
        source=source,
        name=args.name or "",
        start=_time(args.start, "--start") or Fraction(0),
        length=_time(args.length, "--length"),
        speed=_number(args.speed, "--speed") or Fraction(1),
        crop=read_crop(args.crop, "--crop") if args.crop else None,
        fit=args.fit,
        background=parse_colour(args.background),
        delay=read_delay(args.delay, args.rate),
        hold_start=hold[0],
        hold_end=hold[1],
        fade_in=fade[0],
        fade_out=fade[1],
        dim=_dim(args.dim),
        loops=read_whole(args.loops, "--loops", 0, 1_000_000) if args.loops else None,
        colours=read_whole(args.colours, "--colours", 2, 256) if args.colours else None,
        dither=args.dither,
        sound=Path(args.sound) if args.sound and args.sound != "none" else None,
        silent=args.sound == "none",
        loudness=_loudness(args.loudness),
        art_frame=read_whole(args.art_frame, "--art-frame", 0, 1_000_000) if args.art_frame else None,
        author=args.author,
        label=args.label,
        choose=args.choose,
        budget=parse_budget(args.budget) if args.budget else None,
        remedy=args.remedy,
    )


def _time(text: str | None, option: str) -> Fraction | None:
    return None if text is None else read_time(text, option)


def _number(text: str | None, option: str) -> Fraction | None:
    return None if text is None else read_number(text, option, least=Fraction(0))


def _dim(text: str | None) -> Fraction:
    dim = _number(text, "--dim")
    if dim is not None and dim > 1:
        raise UsageError(f"--dim takes a number above 0 and at most 1, not {text!r}")
    return Fraction(1) if dim is None else dim


def _loudness(text: str | None) -> Fraction | None:
    loudness = None if text is None else read_number(text, "--loudness")
    if loudness is not None and not -70 <= loudness <= 0:
        raise UsageError(f"--loudness takes LUFS from -70 to 0, such as -23, not {text!r}")
    return loudness


def _refuse_flashes(args: argparse.Namespace, planned: PlannedAnimation) -> None:
    """What could harm is not written by the way."""
    flash = planned.report.flash
    if flash.passes or args.accept_flashes or args.dry_run:
        return
    remedies = planned.report.remedies
    help_ = (
        f"Take a remedy ({' or '.join(f'--remedy {one}' for one in remedies)})"
        if remedies
        else "Choose another clip"
    )
    second = float(flash.first_failing_second or 0)
    raise MediaError(
        f"it flashes too much in the second that begins at {second:.2f} s, which can harm people; nothing "
        f"was changed. {help_}, or say --accept-flashes."
    )

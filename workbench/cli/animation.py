"""`cardwright animation CARD ACT [NAME] [FILE]`: looks at the boot animations on a card, and changes them."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.cli.watching import Watch
from workbench.errors import UsageError
from workbench.jobs.amounts import read_delay, read_size

if TYPE_CHECKING:
    from workbench.changes.plan import Plan
    from workbench.jobs.animation import AnimationFacts

ACTS = ("show", "retime", "resize", "renumber", "mend", "export", "choose", "remove")


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("act", choices=ACTS)
    parser.add_argument("name", nargs="?", help="the animation (show: all of them without)")
    parser.add_argument("file", nargs="?", help="export: the .gif or .mp4 to write")
    parser.add_argument(
        "--delay", metavar="MS", help="retime: from one frame to the next, as the device shows them"
    )
    parser.add_argument("--rate", metavar="FPS", help="retime: the same in frames a second")
    parser.add_argument("--resample", action="store_true", help="retime: keep the length, not the frames")
    parser.add_argument("--size", metavar="WxH", help="resize: another size than the panel's")
    parser.add_argument("--fit", choices=("contain", "cover", "stretch", "centre"), default="contain")
    parser.add_argument("--background", default="#000000", metavar="COLOUR")
    parser.add_argument(
        "--gaps",
        choices=("repeat", "close"),
        default="repeat",
        help="mend: repeat the frame before, or close up",
    )
    parser.add_argument("--none", action="store_true", help="choose: let nothing play at start")
    parser.add_argument("--overwrite", action="store_true", help="export: replace the file that is there")
    parser.add_argument("--play", action="store_true", help="show: play it here, where this is a terminal")
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.act == "show":
        return _show(args)
    if args.act == "export":
        return _export(args)
    if not args.name and not (args.act == "choose" and args.none):
        raise UsageError(f"animation {args.act} needs a name: cardwright animation CARD {args.act} NAME")
    if args.file:
        raise UsageError(f"animation {args.act} takes one name, not also {args.file!r}")
    if args.none and args.name:
        raise UsageError("choose takes a name, or --none")
    from workbench.jobs.renders import drop_renders

    check_consent(args)
    delay = read_delay(args.delay, args.rate)
    if args.act == "retime" and delay is None:
        raise UsageError("animation retime needs --delay MS or --rate FPS")
    opened = open_for_writing(args)
    watch = Watch(is_quiet=args.json or not sys.stderr.isatty())
    with watch.watching():
        plan = _plan(args, opened, watch)
    try:
        return carry_out(args, opened.card, plan)
    finally:
        drop_renders(plan)


def _plan(args: argparse.Namespace, opened: Opened, watch: Watch) -> Plan:
    from workbench.media.colours import parse_colour

    if args.act == "choose":
        from workbench.jobs.animation_choose import plan_choose

        return plan_choose(opened.tree, opened.profile, None if args.none else args.name)
    if args.act == "retime":
        from workbench.jobs.animation_retime import plan_retime

        delay = read_delay(args.delay, args.rate)
        assert delay is not None
        return plan_retime(
            opened.tree,
            opened.profile,
            args.name,
            delay,
            resample=args.resample,
            progress=watch.progress,
            cancelled=watch.cancelled,
        )
    if args.act == "resize":
        from workbench.jobs.animation_resize import plan_resize

        return plan_resize(
            opened.tree,
            opened.profile,
            args.name,
            size=read_size(args.size, "--size") if args.size else None,
            fit=args.fit,
            background=parse_colour(args.background),
            progress=watch.progress,
            cancelled=watch.cancelled,
        )
    from workbench.jobs.animation_numbers import plan_mend, plan_renumber

    if args.act == "remove":
        from workbench.jobs.animation_remove import plan_remove_animation

        return plan_remove_animation(opened.tree, opened.profile, args.name)
    if args.act == "renumber":
        return plan_renumber(opened.tree, opened.profile, args.name)
    return plan_mend(opened.tree, opened.profile, args.name, args.gaps)


def _export(args: argparse.Namespace) -> int:
    from workbench.jobs.animation_export import export_animation

    if not args.name or not args.file:
        raise UsageError(
            "animation export needs a name and a file: cardwright animation CARD export NAME FILE.gif"
        )
    opened = open_for_reading(args)
    watch = Watch(is_quiet=args.json or not sys.stderr.isatty())
    with watch.watching():
        done = export_animation(
            opened.tree,
            opened.profile,
            args.name,
            Path(args.file),
            overwrite=args.overwrite,
            progress=watch.progress,
            cancelled=watch.cancelled,
        )
    if args.json:
        shape = {
            "file": str(done.path),
            "bytes": done.bytes,
            "frames": done.frames,
            "length": float(done.length),
            "notes": list(done.notes),
        }
        say_json(shape)
        return 0
    say(f"Wrote {done.path}: {done.frames} frames, {float(done.length):.2f} s, {done.bytes:,} bytes.")
    for note in done.notes:
        say(note)
    return 0


def _show(args: argparse.Namespace) -> int:
    from workbench.jobs.animation import show_animation, show_animations

    opened = open_for_reading(args)
    if args.name:
        found: tuple[AnimationFacts, ...] = (show_animation(opened.tree, opened.profile, args.name),)
    else:
        found = show_animations(opened.tree, opened.profile)
    if args.json:
        say_json({"animations": [_shape(facts) for facts in found]})
        return 0
    if args.play and args.name and sys.stdout.isatty():
        _play(opened, args.name)
    for facts in found:
        for line in _lines(facts):
            say(line)
    if not found:
        say("There is no boot animation on this card.")
    return 0


def _play(opened: Opened, name: str) -> None:
    from workbench.cli.rehearse import play_here
    from workbench.jobs.rehearsal import Rehearsal, rehearse
    from workbench.values import replace

    scenes = rehearse(opened.tree, opened.profile, name=name).scenes
    only = [replace(scene, start=scene.start - scene.start) for scene in scenes if scene.kind == "animation"]
    play_here(opened, Rehearsal(tuple(only), ()))


def _lines(facts: AnimationFacts) -> list[str]:
    one = facts.animation
    plays = "  (plays at start)" if one.is_chosen else ""
    length = "" if facts.length is None else f", {float(facts.length):.2f} s"
    pace = "pace not known" if one.pace is None else f"one each {float(one.pace.delay * 1000):g} ms"
    lines = [f"{one.name}  {one.folder}{plays}", f"  {len(one.frames)} frames{length}, {pace}"]
    if facts.kind:
        lines.append(f"  frames: {facts.kind}; {facts.bytes:,} bytes in all")
    if facts.sound_length is not None:
        lines.append(f"  sound: {float(facts.sound_length):.2f} s")
    said = {"shown as": one.label, "by": one.author}
    lines += [f"  {word} {text}" for word, text in said.items() if text]
    for problem in facts.problems:
        remedy = f"  (animation CARD {problem.remedy} {one.name})" if problem.remedy else ""
        lines.append(f"  problem: {problem.at}: {problem.message}{remedy}")
    return lines


def _shape(facts: AnimationFacts) -> dict[str, Any]:
    one = facts.animation
    return {
        "name": one.name,
        "volume": one.folder.volume,
        "path": one.folder.path,
        "chosen": one.is_chosen,
        "frames": len(one.frames),
        "count": one.count,
        "delay_ms": None if one.pace is None else float(one.pace.delay * 1000),
        "length": None if facts.length is None else float(facts.length),
        "loops": one.loops,
        "size": None if facts.size is None else list(facts.size),
        "bytes": facts.bytes,
        "sound": None if facts.sound_length is None else float(facts.sound_length),
        "label": one.label,
        "author": one.author,
        "problems": [
            {
                "rule": problem.rule,
                "volume": problem.at.volume,
                "path": problem.at.path,
                "message": problem.message,
                "remedy": problem.remedy or None,
            }
            for problem in facts.problems
        ],
    }

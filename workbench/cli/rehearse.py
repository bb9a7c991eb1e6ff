"""`cardwright rehearse CARD`: splash, boot animation and menu, as the device would show them."""

from __future__ import annotations

import argparse
import sys
from functools import partial
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments
from workbench.cli.opened import Opened, open_for_reading
from workbench.cli.output import say, say_json, warn

if TYPE_CHECKING:
    from workbench.jobs.rehearsal import Rehearsal, Scene


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("--name", help="another boot animation than the one that plays at start")
    parser.add_argument("--menu", metavar="ID", help="another menu than the first")
    parser.add_argument("--timeline", action="store_true", help="print it, even on a terminal")
    parser.add_argument("--json", action="store_true", help="print JSON")


def run(args: argparse.Namespace) -> int:
    from workbench.jobs.rehearsal import rehearse

    opened = open_for_reading(args)
    rehearsal = rehearse(opened.tree, opened.profile, menu_id=args.menu, name=args.name)
    if args.json:
        say_json(_shape(rehearsal))
    elif sys.stdout.isatty() and not args.timeline:
        play_here(opened, rehearsal)
        _say_last(rehearsal)
    else:
        _say(rehearsal)
    return 0


def play_here(opened: Opened, rehearsal: Rehearsal) -> None:
    """Play it in this terminal; `q` or ctrl-C ends it."""
    from workbench.jobs.rehearsal import picture_of
    from workbench.tui.playing import open_stage, play

    try:
        with open_stage() as stage:
            drawn, dropped = play(rehearsal, stage, partial(picture_of, opened.tree, opened.profile))
    except KeyboardInterrupt:
        return
    if dropped:
        warn(f"{dropped} of {drawn + dropped} frames were dropped to keep the time.")


def _say(rehearsal: Rehearsal) -> None:
    for scene in rehearsal.scenes:
        end = "" if scene.length is None else f" to {float(scene.start + scene.length):.2f} s"
        say(f"{float(scene.start):8.2f} s{end}  {scene.title}")
        if scene.sound:
            say(f"{'':8}    with the sound {scene.sound}")
        for line in scene.lines:
            say(f"{'':8}    {line}")
    for note in rehearsal.notes:
        say(note)


def _say_last(rehearsal: Rehearsal) -> None:
    """What stays when the terminal is as it was."""
    for scene in rehearsal.scenes:
        if scene.length is None:
            say(scene.title)
            for line in scene.lines:
                say(f"  {line}")
    for note in rehearsal.notes:
        say(note)


def _shape(rehearsal: Rehearsal) -> dict[str, Any]:
    return {"scenes": [_scene_shape(scene) for scene in rehearsal.scenes], "notes": list(rehearsal.notes)}


def _scene_shape(scene: Scene) -> dict[str, Any]:
    shape: dict[str, Any] = {
        "kind": scene.kind,
        "start": float(scene.start),
        "length": None if scene.length is None else float(scene.length),
        "title": scene.title,
    }
    if scene.kind == "animation":
        assert scene.delay is not None
        shape |= {
            "frames": [{"number": one.number, "path": str(one.at)} for one in scene.frames],
            "delay_ms": float(scene.delay * 1000),
            "plays": scene.plays,
            "sound": scene.sound or None,
        }
    if scene.kind == "menu":
        shape["entries"] = list(scene.lines)
    return shape

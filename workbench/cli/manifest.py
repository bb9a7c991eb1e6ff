"""`cardwright manifest CARD FILE get|set|insert|delete|mend POINTER [VALUE]`."""

from __future__ import annotations

import argparse
import json
from typing import TYPE_CHECKING

from workbench.card.paths import VolumePath
from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.hint import command_line
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.errors import CardError, CardwrightError, ManifestError, UsageError

if TYPE_CHECKING:
    from workbench.changes.plan import Plan


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument(
        "file", metavar="FILE", help="VOLUME:PATH, or the path alone where only one volume has it"
    )
    parser.add_argument("act", choices=("get", "set", "insert", "delete", "mend"))
    parser.add_argument(
        "pointer", metavar="POINTER", nargs="?", default="", help="JSON Pointer, or /section/key"
    )
    parser.add_argument("value", metavar="VALUE", nargs="?", help="JSON, or plain text")
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.act == "get":
        return _get(args)
    check_consent(args)
    opened = open_for_writing(args)
    at = find_file(opened, args.file)
    try:
        plan = _plan(args, opened, at)
    except ManifestError as error:
        raise _with_mend(error, args.act != "mend" and _can_mend(opened, at), args) from error
    if args.act == "mend" and not args.json:
        _say_mend(opened, at)
    return carry_out(args, opened.card, plan)


def _plan(args: argparse.Namespace, opened: Opened, at: VolumePath) -> Plan:
    from workbench.jobs import edit

    tree, profile = opened.tree, opened.profile
    if args.act == "mend":
        return edit.plan_mend(tree, profile, at)
    if args.act == "delete":
        return edit.plan_delete(tree, profile, at, args.pointer)
    if args.value is None:
        raise UsageError(f"manifest {args.act} needs POINTER and VALUE")
    act = edit.plan_set if args.act == "set" else edit.plan_insert
    return act(tree, profile, at, args.pointer, edit.read_value(args.value))


def _get(args: argparse.Namespace) -> int:
    from workbench.jobs.edit import get_value, read_manifest

    opened = open_for_reading(args)
    at = find_file(opened, args.file)
    manifest = read_manifest(opened.tree, opened.profile, at)
    try:
        value = get_value(manifest, args.pointer)
    except ManifestError as error:
        raise _with_mend(error, manifest.mend() is not None, args) from error
    if args.json:
        say_json({"volume": at.volume, "path": at.path, "pointer": args.pointer, "value": _plain(value)})
    else:
        say(value if isinstance(value, str) else json.dumps(_plain(value), ensure_ascii=False, indent=1))
    return 0


def _can_mend(opened: Opened, at: VolumePath) -> bool:
    from workbench.jobs.edit import read_manifest

    try:
        return read_manifest(opened.tree, opened.profile, at).mend() is not None
    except CardwrightError:
        return False


def _with_mend(error: ManifestError, can_mend: bool, args: argparse.Namespace) -> ManifestError:
    if not can_mend:
        return error
    mend = command_line(args, "manifest", args.file, "mend", "--dry-run")
    hint = f"{error.message.rstrip('.')}. It can be mended: {mend}"
    return ManifestError(hint, path=error.path, line=error.line, column=error.column, text=error.text)


def _plain(value: object) -> object:
    """JSON has no dates; TOML's come out as their text."""
    return json.loads(json.dumps(value, default=str))


def _say_mend(opened: Opened, at: VolumePath) -> None:
    from workbench.jobs.edit import read_manifest, show_mend

    for line in show_mend(read_manifest(opened.tree, opened.profile, at)):
        say(line)


def find_file(opened: Opened, text: str) -> VolumePath:
    """The place that a person named: `VOLUME:PATH`, or a path that one present volume has.

    Raises:
        CardError: no volume has it, or several do.
    """
    roles = opened.tree.roles()
    if text.partition(":")[0] in opened.profile.volumes and ":" in text:
        return VolumePath.parse(text)
    found = [at for role in roles if opened.tree.stat(at := VolumePath(role, text.strip("/"))) is not None]
    if len(found) == 1:
        return found[0]
    if found:
        raise CardError(f"{text} is on several volumes; say which: {', '.join(map(str, found))}", path=text)
    raise CardError(
        f"there is no file {text} on the volumes {', '.join(roles)}; nothing was changed", path=text
    )

"""`cardwright pack CARD look FILE | add FILE | remove NAME | list | make FILE`."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING, Any

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.carrying import carry_out, check_consent
from workbench.cli.opened import Opened, open_for_reading, open_for_writing
from workbench.cli.output import say, say_json
from workbench.errors import UsageError

if TYPE_CHECKING:
    from workbench.card.paths import VolumePath
    from workbench.changes.brought import Traces
    from workbench.jobs.packs.looking import Answers
    from workbench.jobs.packs.making import PackDraft, PackWish
    from workbench.jobs.packs.parts import Decision, PackLook, Part


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("act", choices=("look", "add", "remove", "list", "make"))
    parser.add_argument(
        "what", nargs="?", help="look, add: the archive or folder; remove: the pack; make: the new file"
    )
    group = parser.add_argument_group("look, add")
    group.add_argument(
        "--into",
        metavar="[TOP=]PLACE",
        action="append",
        default=[],
        help="where a top folder of the pack goes, or all that is not plain: VOLUME:FOLDER",
    )
    group.add_argument(
        "--without", metavar="PATH", action="append", default=[], help="leave this out (globs allowed)"
    )
    for word, what in (
        ("mine", "keep the file on the card"),
        ("theirs", "take the pack's file"),
        ("both", "keep the file on the card and put the pack's beside it"),
    ):
        group.add_argument(
            f"--{word}",
            metavar="PATH",
            action="append",
            default=[],
            help=f"of a clash, {what} (`all` for all)",
        )
    group.add_argument("--diff", action="store_true", help="show how texts differ, line by line")
    group.add_argument("--limit", metavar="SIZE", help="how much it may unpack: bytes, or 200M, 8G")
    group.add_argument("--any-device", action="store_true", help="also a pack made for another device")
    group = parser.add_argument_group("remove")
    group.add_argument("--partial", action="store_true", help="leave what was edited since as it is")
    group = parser.add_argument_group("make")
    for word, what in (
        ("entry", "a whole entry with its pictures"),
        ("icon", "the pictures of an entry alone"),
        ("animation", "a boot animation"),
        ("splash", "the splash of this moment, or all"),
    ):
        group.add_argument(f"--{word}", metavar="NAME", action="append", default=[], help=what)
    for word in ("name", "version", "author", "licence"):
        group.add_argument(f"--{word}", help=f"the pack's {word}, for its list")
    group.add_argument("--with-companions", action="store_true", help="also saved games, settings, manuals")
    group.add_argument("--with-secrets", action="store_true", help="also files that look secret")
    group.add_argument("--replace", action="store_true", help="write over the file that is there")
    parser.add_argument("--menu", metavar="ID", help="make: look for entries in this menu only")
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.act == "list":
        return _list(args)
    if args.what is None:
        usage = {"look": "look FILE", "add": "add FILE", "remove": "remove NAME", "make": "make FILE"}[
            args.act
        ]
        raise UsageError(f"it goes: cardwright pack CARD {usage}")
    return {"look": _look, "add": _add, "remove": _remove, "make": _make}[args.act](args)


# Looking and adding


def _look(args: argparse.Namespace) -> int:
    opened = open_for_reading(args)
    found = _look_into(args, opened, _traces(opened))
    if args.json:
        say_json(_look_shape(found))
    else:
        _say_look(opened, found, with_diff=args.diff)
    return 1 if found.of("refused") else 0


def _add(args: argparse.Namespace) -> int:
    from workbench.jobs.packs.adding import drop_contents, plan_add_pack, refuse_unfit

    check_consent(args)
    opened = open_for_writing(args)
    found = _look_into(args, opened, _traces(opened))
    refuse_unfit(found, opened.profile, any_device=args.any_device)
    decisions = _decide(args, found)
    undecided = [part for part in found.of("clash") if part.path not in decisions]
    if undecided and not args.json:
        _say_clashes(args, opened, undecided, found)
    plan = plan_add_pack(opened.tree, opened.profile, found, decisions, any_device=args.any_device)
    try:
        return carry_out(args, opened.card, plan, beside={"pack": _look_shape(found)})
    finally:
        drop_contents(plan)


def _traces(opened: Opened) -> Traces:
    from workbench.changes.brought import read_traces

    return read_traces(opened.card)


def _look_into(args: argparse.Namespace, opened: Opened, traces: Traces) -> PackLook:
    from workbench.jobs.packs.looking import look

    return look(
        opened.tree,
        opened.profile,
        Path(args.what),
        answers=_answers(args, opened),
        traces=traces,
        limits=_limits(args, opened),
    )


def _answers(args: argparse.Namespace, opened: Opened) -> Answers:
    from workbench.card.paths import VolumePath
    from workbench.errors import CardError
    from workbench.jobs.packs.looking import Answers

    into: dict[str, VolumePath] = {}
    roles = opened.tree.roles()
    for word in args.into:
        top, equals, place = word.rpartition("=")
        try:
            at = VolumePath.parse(place if ":" in place else f"{place}:")
        except CardError as error:
            raise UsageError(f"--into takes VOLUME:FOLDER, or TOP=VOLUME:FOLDER, not {word!r}") from error
        if at.volume not in roles:
            raise UsageError(
                f"--into {word}: this card has no volume {at.volume!r}; it has {', '.join(roles)}"
            )
        into[top.strip("/") if equals else ""] = at
    return Answers(into, tuple(args.without), args.any_device)


def _limits(args: argparse.Namespace, opened: Opened) -> Any:
    """At most what the card could take; or what the person says, whatever the archive's own size."""
    from workbench.host.archives.limits import Limits

    if args.limit is not None:
        from workbench.jobs.backup.sizes import read_size

        return Limits(total_bytes=read_size(args.limit), ratio=0)
    free = sum(volume.free_bytes for volume in opened.card.present)
    usual = Limits()
    return Limits(total_bytes=min(usual.total_bytes, free)) if free else usual


def _decide(args: argparse.Namespace, found: PackLook) -> dict[str, Decision]:
    from workbench.card.globs import translate

    words: tuple[tuple[Decision, list[str]], ...] = (
        ("mine", args.mine),
        ("theirs", args.theirs),
        ("both", args.both),
    )
    decisions: dict[str, Decision] = {}
    for part in found.of("clash"):
        names = (part.path, part.at.path if part.at else "", str(part.at))
        for decision, patterns in words:
            exact = any(pattern in names for pattern in patterns)
            fits = exact or any(
                pattern == "all" or translate(pattern, fold=True).match(name) is not None
                for pattern in patterns
                for name in names
            )
            if exact or (fits and part.path not in decisions):
                decisions[part.path] = decision
    return decisions


def _say_clashes(args: argparse.Namespace, opened: Opened, parts: list[Part], found: PackLook) -> None:
    del args
    for part in parts:
        say(f"clash    {part.at}  {part.because}")
        _say_diff(opened, found, part)
    say("Say of each: --mine PATH to keep it, --theirs PATH to take the pack's, --both PATH to have both.")


def _say_diff(opened: Opened, found: PackLook, part: Part) -> None:
    from workbench.jobs.packs.adding import diff_part

    for line in diff_part(opened.tree, found, part)[:200]:
        say(f"    {line}")


_WORDS = {
    "new": "new",
    "same": "same",
    "changed": "changed",
    "clash": "clash",
    "litter": "litter",
    "about": "about it",
    "refused": "refused",
    "undecided": "where to?",
    "left-out": "left out",
}


def _say_look(opened: Opened, found: PackLook, *, with_diff: bool) -> None:
    own = found.list
    by = f" by {own.author}" if own is not None and own.author else ""
    licence = f", {own.licence}" if own is not None and own.licence else ""
    version = f" {own.version}" if own is not None and own.version else ""
    say(f"{found.name}{version}{by}{licence} ({found.archive.format}, {len(found.parts)} files)")
    for part in found.parts:
        place = f"{part.path}" + (f"  ->  {part.at}" if part.at is not None else "")
        why = f"  {part.because}" if part.because else ""
        say(f"  {_WORDS[part.standing]:<9} {place}  {part.size:,} bytes{why}")
        if with_diff and part.standing in ("clash", "changed"):
            _say_diff(opened, found, part)
    for question in found.questions:
        choices = " or ".join(str(place) for place in question.choices)
        likely = f"; likely {choices}" if choices else ""
        say(f"{question.text} Answer with --into {question.top}=PLACE{likely}.")
    for note in found.notes:
        say(note)


def _look_shape(found: PackLook) -> dict[str, Any]:
    own = found.list
    return {
        "name": found.name,
        "format": found.archive.format,
        "sha256": found.sha256 or None,
        "version": own.version if own else None,
        "author": own.author if own else None,
        "licence": own.licence if own else None,
        "profile": own.profile if own else None,
        "parts": [_part_shape(part) for part in found.parts],
        "questions": [
            {"top": one.top, "text": one.text, "choices": [str(at) for at in one.choices], "parts": one.parts}
            for one in found.questions
        ],
        "notes": list(found.notes),
    }


def _part_shape(part: Part) -> dict[str, Any]:
    return {
        "path": part.path,
        "volume": part.at.volume if part.at else None,
        "to": part.at.path if part.at else None,
        "standing": part.standing,
        "because": part.because or None,
        "bytes": part.size,
        "sha256": part.sha256 or None,
    }


# Listing and removing


def _list(args: argparse.Namespace) -> int:
    opened = open_for_reading(args)
    packs = _traces(opened).packs
    if args.json:
        shapes = [
            {
                "name": one.pack.name,
                "version": one.pack.version,
                "author": one.pack.author,
                "licence": one.pack.licence,
                "sha256": one.pack.sha256 or None,
                "change": one.number,
                "time": one.time,
                "files": [{"volume": at.volume, "path": at.path} for at in one.files],
                "entries": [{"volume": at.volume, "path": at.path} for at in one.entries],
            }
            for one in packs
        ]
        say_json({"packs": shapes})
        return 0
    for one in packs:
        version = f" {one.pack.version}" if one.pack.version else ""
        say(f"{one.number:>4}  {one.time}  {one.pack.name}{version}  {len(one.files)} files")
    if not packs:
        say("No pack was added to this card.")
    return 0


def _remove(args: argparse.Namespace) -> int:
    from workbench.changes.brought import find_pack
    from workbench.changes.taking_out import plan_taking_out
    from workbench.errors import CardwrightError
    from workbench.jobs.packs.removing import plan_remove_pack
    from workbench.shown import shown

    check_consent(args)
    opened = open_for_writing(args)
    traces = _traces(opened)
    brought = find_pack(traces, args.what)
    taken = plan_taking_out(opened.card, brought, traces)
    plan = plan_remove_pack(opened.tree, opened.profile, taken, brought.entries)
    if not plan.steps:
        named = "; ".join(f"{shown(str(one.at))} {one.because}" for one in plan.conflicts[:3])
        raise CardwrightError(
            f"nothing of the pack {shown(brought.pack.name)} can be taken out: "
            f"{named or 'nothing is left of it'}. Nothing was changed."
        )
    return carry_out(args, opened.card, plan, in_part=args.partial)


# Making


def _make(args: argparse.Namespace) -> int:
    from workbench.jobs.packs.making import draft_pack, write_pack

    opened = open_for_reading(args)
    target = Path(args.what)
    draft = draft_pack(opened.tree, opened.profile, _wish(args, opened))
    name = args.name or target.name.removesuffix(".zip")
    if not args.dry_run:
        _check_target(args, opened, target)
        sha256 = write_pack(
            opened.tree,
            draft,
            target,
            name=name,
            version=args.version or "",
            author=args.author or "",
            licence=args.licence or "",
        )
    if args.json:
        say_json(_draft_shape(draft, name, None if args.dry_run else sha256))
        return 0
    _say_draft(draft)
    say("Nothing was written." if args.dry_run else f"Made: {target}  SHA-256 {sha256}")
    return 0


def _wish(args: argparse.Namespace, opened: Opened) -> PackWish:
    from workbench.card.menu import find_entry, read_menus
    from workbench.jobs.packs.making import PackWish

    menus = read_menus(opened.tree, opened.profile, args.menu) if args.entry or args.icon else ()
    return PackWish(
        tuple(find_entry(menus, one) for one in args.entry),
        tuple(find_entry(menus, one) for one in args.icon),
        tuple(args.animation),
        tuple(args.splash),
        args.with_companions,
        args.with_secrets,
    )


def _check_target(args: argparse.Namespace, opened: Opened, target: Path) -> None:
    from workbench.jobs.host_target import check_host_target

    check_host_target(opened.card, target, replace=args.replace)


def _say_draft(draft: PackDraft) -> None:
    for item in draft.files:
        say(f"  {item.at}  {item.size:,} bytes")
    say(f"  {len(draft.files)} files, {draft.bytes:,} bytes")
    for at, why in draft.secrets:
        is_in = any(item.at == at for item in draft.files)
        fate = "it goes along, as you asked" if is_in else "left out (--with-secrets takes it)"
        say(f"  {at} {why}: {fate}")
    if draft.companions:
        say(
            f"  {len(draft.companions)} saved games, settings and manuals stay here "
            "(--with-companions takes them)"
        )


def _draft_shape(draft: PackDraft, name: str, sha256: str | None) -> dict[str, Any]:
    def place(at: VolumePath) -> dict[str, Any]:
        return {"volume": at.volume, "path": at.path}

    return {
        "name": name,
        "sha256": sha256,
        "bytes": draft.bytes,
        "files": [place(item.at) | {"bytes": item.size} for item in draft.files],
        "entries": [{"at": one.at, "label": one.label} for one in draft.entries],
        "secrets": [
            place(at) | {"because": why, "included": any(item.at == at for item in draft.files)}
            for at, why in draft.secrets
        ],
        "companions_left": [place(at) for at in draft.companions],
    }

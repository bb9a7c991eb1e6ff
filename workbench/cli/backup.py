"""`cardwright backup CARD take FILE | verify FILE | compare FILE [FILE] | restore FILE`, and `--as-if`."""

from __future__ import annotations

from pathlib import Path

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.cli.output import say, say_json
from workbench.errors import UsageError
from workbench.typed import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import argparse

    from workbench.jobs.backup.choosing import Scope
    from workbench.jobs.backup.comparing import Difference
    from workbench.jobs.backup.other_card import Move
    from workbench.jobs.backup.taking import Taken


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("act", nargs="?", choices=("take", "verify", "compare", "restore"))
    parser.add_argument("file", nargs="?", help="the backup: a zip on this computer")
    parser.add_argument("other", nargs="?", help="compare: another backup; without, the card")
    group = parser.add_argument_group("take")
    group.add_argument("--all", action="store_true", help="also what the profile does not name")
    group.add_argument("--with-media", action="store_true", help="with --all: also files over 16 MiB")
    group.add_argument("--with-secrets", action="store_true", help="also files that look secret")
    group.add_argument(
        "--skip-unreadable", action="store_true", help="leave out what cannot be read, and say so"
    )
    group.add_argument("--replace", action="store_true", help="write over the file that is there")
    group = parser.add_argument_group("take, restore")
    group.add_argument(
        "--without", metavar="PATH", action="append", default=[], help="leave this out (globs allowed)"
    )
    group = parser.add_argument_group("restore")
    group.add_argument(
        "--only", metavar="PATH", action="append", default=[], help="only this file or folder: VOLUME:PATH"
    )
    group.add_argument("--any-device", action="store_true", help="also a backup of another device")
    parser.add_argument(
        "--as-if",
        metavar="FILESYSTEM:UNIT[:SIZE]",
        help="what a move to such a card would cost and break: exfat:128K, fat32:32K:64G",
    )
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    if args.as_if is not None:
        if args.act is not None:
            raise UsageError("--as-if stands alone: cardwright backup CARD --as-if exfat:128K")
        return _say_move(args)
    if args.act is None or args.file is None:
        raise UsageError("it goes: cardwright backup CARD take|verify|compare|restore FILE")
    if args.other is not None and args.act != "compare":
        raise UsageError(f"backup {args.act} takes one file")
    return {"take": _take, "verify": _verify, "compare": _compare, "restore": _restore}[args.act](args)


def _scope(args: argparse.Namespace) -> Scope:
    from workbench.jobs.backup.choosing import Scope

    return Scope(
        args.all or args.with_media,
        args.with_media,
        args.with_secrets,
        tuple(one.replace(":", "/", 1) for one in args.without),
    )


# Taking


def _take(args: argparse.Namespace) -> int:
    from workbench.cli.opened import open_for_reading
    from workbench.jobs.backup.taking import take_backup
    from workbench.jobs.host_target import check_host_target

    opened = open_for_reading(args)
    target = Path(args.file)
    check_host_target(opened.card, target, replace=args.replace or args.dry_run)
    if args.dry_run:
        return _say_choice(args)
    taken = take_backup(
        opened.tree, opened.profile, target, _scope(args), skip_unreadable=args.skip_unreadable
    )
    if args.json:
        say_json(_taken_shape(taken))
        return 0
    for path, why in taken.list.left_out.items():
        say(f"  left out: {path} {why}")
    say(
        f"Saved {len(taken.list.files):,} files, {taken.bytes:,} bytes, in {target} "
        f"({taken.packed_bytes:,} bytes)."
    )
    for volume in opened.card.absent:
        say(f"The volume {volume.role} is not here, so nothing of it is in the backup.")
    return 0


def _say_choice(args: argparse.Namespace) -> int:
    from workbench.cli.opened import open_for_reading
    from workbench.jobs.backup.choosing import choose_files, look_into

    opened = open_for_reading(args)
    scope = _scope(args)
    chosen = look_into(opened.tree, opened.profile, scope, choose_files(opened.tree, opened.profile, scope))
    if args.json:
        say_json(
            {
                "files": [{"volume": role, "path": path} for role, path in chosen.files],
                "left_out": [
                    {"volume": role, "path": path, "because": why} for role, path, why in chosen.left_out
                ],
            }
        )
        return 0
    for role, path in chosen.files:
        say(f"  {role}:{path}")
    for role, path, why in chosen.left_out:
        say(f"  left out: {role}/{path} {why}")
    say(f"{len(chosen.files):,} files would be saved. Nothing was written.")
    return 0


def _taken_shape(taken: Taken) -> dict[str, Any]:
    return {
        "backup": str(taken.path),
        "files": len(taken.list.files),
        "bytes": taken.bytes,
        "packed_bytes": taken.packed_bytes,
        "scope": taken.list.scope,
        "left_out": [{"path": path, "because": why} for path, why in taken.list.left_out.items()],
    }


# Verifying and comparing


def _verify(args: argparse.Namespace) -> int:
    """The card itself is not needed for it, and not looked at."""
    from workbench.jobs.backup.backup_file import BackupFile

    backup = BackupFile(Path(args.file))
    faults = backup.find_faults()
    if args.json:
        say_json(
            {
                "backup": args.file,
                "files": len(backup.list.files),
                "faults": [{"path": one.path or None, "because": one.because} for one in faults],
            }
        )
    for fault in () if args.json else faults:
        say(f"  {fault.path or 'the zip itself'} {fault.because}")
    if not args.json:
        say(
            f"{args.file} is damaged: {len(faults)} of {len(backup.list.files):,} files or parts."
            if faults
            else f"{args.file} is whole: {len(backup.list.files):,} files, every byte as it was written."
        )
    return 1 if faults else 0


def _compare(args: argparse.Namespace) -> int:
    from workbench.jobs.backup.backup_file import BackupFile
    from workbench.jobs.backup.comparing import compare_lists, compare_with_card

    first = BackupFile(Path(args.file)).list
    if args.other is not None:
        found = compare_lists(first, BackupFile(Path(args.other)).list)
        names = (args.file, args.other)
    else:
        from workbench.cli.opened import open_for_reading

        opened = open_for_reading(args)
        is_moded = all(volume.host_names == "exact" for volume in opened.card.present)
        found = compare_with_card(first, opened.tree, opened.profile, with_modes=is_moded)
        names = (args.file, "the card")
    if args.json:
        say_json({"differences": [{"path": one.path, "kind": one.kind} for one in found]})
        return 0
    _say_differences(found, names)
    return 0


def _say_differences(found: tuple[Difference, ...], names: tuple[str, str]) -> None:
    words = {
        "only-first": f"only in {names[0]}",
        "only-second": f"only in {names[1]}",
        "content": "differs",
        "mode": "differs in its mode alone",
    }
    for one in found:
        say(f"  {one.path}  {words[one.kind]}")
    say(f"{len(found):,} differences." if found else "No difference.")


# Restoring


def _restore(args: argparse.Namespace) -> int:
    from workbench.cli.carrying import carry_out, check_consent
    from workbench.cli.opened import open_for_writing
    from workbench.jobs.backup.backup_file import BackupFile
    from workbench.jobs.backup.restoring import plan_restore
    from workbench.jobs.renders import drop_renders

    check_consent(args)
    opened = open_for_writing(args)
    is_moded = all(volume.host_names == "exact" for volume in opened.card.present)
    plan = plan_restore(
        opened.tree,
        opened.profile,
        BackupFile(Path(args.file)),
        tuple(args.only),
        without=tuple(args.without),
        any_device=args.any_device,
        with_modes=is_moded,
    )
    try:
        return carry_out(args, opened.card, plan)
    finally:
        drop_renders(plan)


# Another card


def _say_move(args: argparse.Namespace) -> int:
    from workbench.cli.opened import open_for_reading
    from workbench.jobs.backup.other_card import plan_move, read_target
    from workbench.jobs.backup.sizes import read_size

    target = read_target(args.as_if, read_size)
    move = plan_move(open_for_reading(args).tree, target)
    if args.json:
        say_json(_move_shape(move))
    else:
        _say_moved(move)
    return 0


def _say_moved(move: Move) -> None:
    target = move.target
    say(f"On {target.filesystem} with units of {target.cluster:,} bytes:")
    for one in move.volumes:
        more = one.taken_then - one.taken_now
        change = f"{abs(more):,} bytes {'more' if more > 0 else 'less'} than now" if more else "as now"
        say(f"  {one.role}: {one.files:,} files in {one.folders:,} folders, {one.bytes:,} bytes;")
        say(f"    they would take {one.taken_then:,} bytes, {change}")
    for trouble in move.troubles:
        say(f"  {trouble.at} {trouble.because}")
    say(
        f"{len(move.troubles):,} things would not survive as they are."
        if move.troubles
        else "Nothing would break."
    )


def _move_shape(move: Move) -> dict[str, Any]:
    return {
        "as_if": {
            "filesystem": move.target.filesystem,
            "cluster_bytes": move.target.cluster,
            "size_bytes": move.target.size,
        },
        "volumes": [
            {
                "role": one.role,
                "files": one.files,
                "folders": one.folders,
                "bytes": one.bytes,
                "taken_now": one.taken_now,
                "taken_then": one.taken_then,
            }
            for one in move.volumes
        ],
        "troubles": [
            {"volume": one.at.volume, "path": one.at.path, "kind": one.kind, "because": one.because}
            for one in move.troubles
        ],
    }

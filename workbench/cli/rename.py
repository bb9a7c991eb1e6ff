"""`cardwright rename CARD ENTRY NEW`."""

from __future__ import annotations

from workbench.cli.arguments import add_card_arguments, add_writing_arguments
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def add_arguments(parser: argparse.ArgumentParser) -> None:
    add_card_arguments(parser)
    parser.add_argument("entry", help="the entry's name (or MENU:NAME)")
    parser.add_argument("new", help="its new name")
    parser.add_argument(
        "--no-mentions", action="store_true", help="do not look for mentions that no rule covers"
    )
    add_writing_arguments(parser)


def run(args: argparse.Namespace) -> int:
    from workbench.card.scout import Scout

    with Scout(args.card) as scout:
        # Not before: all that the command needs is imported while the scout is on its way.
        from workbench.cli.carrying import carry_out, check_consent
        from workbench.cli.opened import open_for_writing

        check_consent(args)
        opened = open_for_writing(args)
        scout.serve(opened.tree, opened.profile)
        from workbench.card.menu import locate_entry

        menu, entry = locate_entry(opened.tree, opened.profile, args.entry)
        if not args.no_mentions:
            scout.look_for(entry.stem, opened.profile.volumes[entry.at.volume].names)
        from workbench.jobs.rename import plan_rename

        plan = plan_rename(opened.tree, opened.profile, menu, entry, args.new, mentions=not args.no_mentions)
    return carry_out(args, opened.card, plan)

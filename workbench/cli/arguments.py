"""The arguments that commands share. Imports nothing of what carries them out: words are read first."""

from __future__ import annotations

from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse


def add_card_arguments(parser: argparse.ArgumentParser) -> None:
    """CARD, `--profile` and `--volume`."""
    parser.add_argument("card", metavar="CARD", help="a volume label, a mount point, or a folder")
    add_profile_arguments(parser)


def add_profile_arguments(parser: argparse.ArgumentParser) -> None:
    """`--profile` and `--volume`."""
    parser.add_argument("--profile", metavar="FILE", help="the profile of the device")
    parser.add_argument(
        "--volume",
        metavar="ROLE=PATH",
        action="append",
        default=[],
        help="where a volume is, if nothing else tells",
    )


def add_writing_arguments(parser: argparse.ArgumentParser) -> None:
    """What every command takes that changes a card."""
    add_consent_arguments(parser)
    add_keep_argument(parser, "where the card is too full to keep what is replaced: keep it in this folder")


def add_keep_argument(parser: argparse.ArgumentParser, what: str) -> None:
    """`--keep-on`."""
    parser.add_argument("--keep-on", metavar="FOLDER", help=what)


def add_consent_arguments(parser: argparse._ActionsContainer) -> None:
    """`--dry-run`, `--yes`, `--json` and `--open-read-only`."""
    add_opening_argument(parser)
    parser.add_argument("--dry-run", action="store_true", help="print the plan, write nothing")
    parser.add_argument("--yes", action="store_true", help="carry it out without a question")
    parser.add_argument("--json", action="store_true", help="print JSON")


def add_opening_argument(parser: argparse._ActionsContainer) -> None:
    """`--open-read-only`."""
    parser.add_argument(
        "--open-read-only",
        action="store_true",
        help="open a volume that is read-only on purpose for this change, and close it again (needs root)",
    )

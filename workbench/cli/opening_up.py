"""`--open-read-only`: a volume that is read-only on purpose is opened for one change, and closed again.

`--yes` never stands for it: without the option somebody at a terminal has to say yes to just that.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterable, Iterator

from workbench.cli.output import is_agreed, warn
from workbench.errors import CardwrightError
from workbench.shown import shown
from workbench.typed import TYPE_CHECKING

if TYPE_CHECKING:
    import argparse

    from workbench.card.volumes import Card


def agree_to_open(args: argparse.Namespace, card: Card, roles: Iterable[str]) -> list[str]:
    """Those of the volumes that are read-only and are to be opened, by the person's word.

    Raises:
        PreflightError: one is read-only for another reason, or nobody said that it may be opened.
        CardwrightError: the person said no.
    """
    locked = _find_locked(card, roles)
    for role in locked:
        _agree(args, card, role)
    return locked


def refuse_shut(card: Card, roles: Iterable[str]) -> None:
    """Refuse early where a volume is read-only for a reason that no consent changes.

    Raises:
        PreflightError: with the reason.
    """
    for role in _find_locked(card, roles):
        from workbench.card.read_only import judge_read_only
        from workbench.changes.opening_up import refuse_closed

        refuse_closed(judge_read_only(card, role))


def describe_locked(card: Card, roles: Iterable[str]) -> Iterator[str]:
    """What a person has to know before writing to volumes that are read-only."""
    for role in _find_locked(card, roles):
        from workbench.card.read_only import judge_read_only

        judged = judge_read_only(card, role)
        way = "writing to it takes --open-read-only" if judged.can_open else "it will not be written to"
        yield f"The volume {role} {judged.because}; {way}."


def _find_locked(card: Card, roles: Iterable[str]) -> list[str]:
    return [role for role in dict.fromkeys(roles) if role in card.volumes and card.volumes[role].read_only]


@contextlib.contextmanager
def opened_up(card: Card, roles: Iterable[str]) -> Iterator[Card]:
    """The card with these volumes open for writing; what could not be closed again is said at the end."""
    from workbench.changes.opening_up import open_up

    notes: list[str] = []
    try:
        with open_up(card, tuple(roles)) as opening:
            notes = opening.notes
            yield opening.card
    finally:
        for note in notes:
            warn(note)


def _agree(args: argparse.Namespace, card: Card, role: str) -> None:
    from workbench.card.read_only import judge_read_only
    from workbench.changes.opening_up import refuse_closed, refuse_unasked

    judged = judge_read_only(card, role)
    refuse_closed(judged)
    if getattr(args, "open_read_only", False):
        return
    if getattr(args, "yes", False) or getattr(args, "json", False) or not sys.stdin.isatty():
        refuse_unasked(judged)
    if not is_agreed(
        f"The volume {shown(role)} {judged.because}. Open it for writing for this change, and close it again "
        "afterwards?"
    ):
        raise CardwrightError(f"the volume {shown(role)} stays closed; nothing was changed")

"""Waiting plans in the user's state folder: one file for each card, replaced whole.

A plan that comes back is a plan like any other: whoever reopens it checks it against the card again.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
from collections.abc import Sequence
from pathlib import Path

from workbench.card.volumes import Card
from workbench.changes.plan import Plan, Prepared, Write
from workbench.changes.plan_file import read_plan_file, write_plan_file
from workbench.errors import LedgerError
from workbench.host.renders import waiting_folder
from workbench.host.safe_write import write_safely

SCHEMA = 1


def save_waiting(card: Card, wishes: Sequence[Plan]) -> None:
    """Keep these wishes, in order, until they are written or dropped; none forgets the file.

    Raises:
        HostWriteError: the user's state folder cannot be written.
    """
    if not wishes:
        forget_waiting(card)
        return
    held = [base64.b64encode(write_plan_file(wish)).decode("ascii") for wish in wishes]
    kept = {"schema": SCHEMA, "renders": sorted(_list_renders(wishes)), "wishes": held}
    write_safely(_file(card), json.dumps(kept, indent=1).encode("ascii"))


def _list_renders(wishes: Sequence[Plan]) -> set[str]:
    """Names of the files that hold the wishes' large content, and of the folders that hold them.

    Whoever drops such a file or folder looks here first.
    """
    steps = (step for wish in wishes for step in wish.steps if isinstance(step, Write))
    files = [Path(step.content.file) for step in steps if isinstance(step.content, Prepared)]
    return {name for file in files for name in (file.name, file.parent.name)}


def load_waiting(card: Card) -> tuple[Plan, ...]:
    """The wishes that wait for this card, not yet checked against it.

    Raises:
        LedgerError: the file cannot be understood; it was left as it is.
    """
    try:
        raw = _file(card).read_bytes()
    except FileNotFoundError:
        return ()
    except OSError as error:
        raise LedgerError(f"the waiting plan {_file(card)} cannot be read: {error.strerror}") from error
    try:
        held = json.loads(raw)
        return tuple(read_plan_file(base64.b64decode(wish, validate=True)) for wish in held["wishes"])
    except (ValueError, KeyError, TypeError) as error:
        raise LedgerError(f"the waiting plan {_file(card)} is damaged; it was left as it is") from error


def forget_waiting(card: Card) -> None:
    """Drop the file; fine where there is none."""
    with contextlib.suppress(OSError):
        _file(card).unlink(missing_ok=True)


def _file(card: Card) -> Path:
    """One file for a card at its place: the same label elsewhere is another card."""
    roots = [f"{role}={volume.root}" for role, volume in sorted(card.volumes.items()) if volume.present]
    key = hashlib.sha256("\0".join([card.name, *roots]).encode("utf-8", "surrogateescape")).hexdigest()[:24]
    return waiting_folder() / f"{key}.json"

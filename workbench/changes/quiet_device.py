"""Keeps the device's own menu stopped while its card is written, and starts it again on every way out.

Only on the device itself (`Card.source` is `device`), and only with the commands of its profile. What was
stopped is noted in the user's state folder first: if this program is killed, the next one starts it again.
"""

from __future__ import annotations

import contextlib
import hashlib
import json
from collections.abc import Collection, Iterator
from pathlib import Path

from workbench.card.disk_tree import DiskTree
from workbench.card.paths import VolumePath
from workbench.card.volumes import Card
from workbench.changes.plan import Plan, Write
from workbench.changes.rebasing import rebase
from workbench.errors import CardwrightError, PreflightError
from workbench.host.device_command import DeviceCommandError, run_device_command
from workbench.host.folders import state_folder
from workbench.host.safe_write import write_safely
from workbench.manifests.document import MAX_BYTES
from workbench.shown import shown
from workbench.values import dataclass


@contextlib.contextmanager
def menu_stopped(card: Card) -> Iterator[list[str]]:
    """Stop the device's menu until the block ends; the list gathers sentences about what went wrong after it.

    Raises:
        PreflightError: it could not be stopped; nothing was changed.
    """
    notes: list[str] = []
    commands = find_commands(card)
    if commands is None:
        yield notes
        return
    stop, start = commands
    _note(card, start)
    try:
        run_device_command(stop)
    except DeviceCommandError as error:
        notes += start_again(card)
        raise PreflightError(
            f"the device's menu could not be stopped: {error.message}. Nothing was changed."
        ) from error
    except BaseException:
        start_again(card)
        raise
    try:
        yield notes
    finally:
        notes += start_again(card)


@dataclass(slots=True)
class Quiet:
    """A plan while the device's menu stands still."""

    plan: Plan
    """As it has to be carried out now: the menu may have written files back when it was stopped."""
    notes: list[str]


@contextlib.contextmanager
def quiet_device(card: Card, plan: Plan) -> Iterator[Quiet]:
    """Stop the device's menu until the block ends, and carry the plan over to what it wrote at its exit.

    Raises:
        PreflightError: it could not be stopped, or an edit has no sure place any more; nothing was changed.
    """
    if find_commands(card) is None:
        yield Quiet(plan, [])
        return
    places = {step.at for step in plan.steps if isinstance(step, Write) and step.before is not None}
    held = _read(card, places)
    with menu_stopped(card) as notes:
        yield Quiet(rebase(plan, held, _read(card, held)), notes)


def _read(card: Card, places: Collection[VolumePath]) -> dict[VolumePath, bytes]:
    tree = DiskTree(card)
    found = ((at, tree.stat(at)) for at in places)
    return {
        at: tree.read(at)
        for at, item in found
        if item is not None and item.kind == "file" and item.size <= MAX_BYTES
    }


def find_commands(card: Card) -> tuple[str, str] | None:
    """What stops and what starts the menu; None where this is not the device, or its profile has not both."""
    if card.source != "device" or card.profile is None:
        return None
    rule = card.profile.device
    return (rule.stop, rule.start) if rule.stop and rule.start else None


def is_left_stopped(card: Card) -> bool:
    """Whether a program that was killed left the device's menu stopped."""
    return card.source == "device" and _file(card).exists()


def start_again(card: Card) -> list[str]:
    """Start the menu that was stopped: sentences about what went wrong, none where all is well."""
    try:
        command = str(json.loads(_file(card).read_bytes())["start"])
    except FileNotFoundError:
        return []
    except (OSError, ValueError, KeyError, TypeError):
        command = ""
    known = find_commands(card)
    if known is None or command != known[1]:  # only ever what the profile in use says
        command = "" if known is None else known[1]
    try:
        if command:
            run_device_command(command)
    except CardwrightError as error:
        return [f"The device's menu was not started again: {error.message}. Restart the device."]
    with contextlib.suppress(OSError):
        _file(card).unlink()
    return [] if command else ["The device's menu may still be stopped; restart the device."]


def _note(card: Card, start: str) -> None:
    write_safely(_file(card), json.dumps({"start": start, "card": shown(card.name)}).encode("ascii"))


def _file(card: Card) -> Path:
    roots = "\0".join(sorted(str(volume.root) for volume in card.present))
    key = hashlib.sha256(roots.encode("utf-8", "surrogateescape")).hexdigest()[:24]
    return state_folder() / "stopped" / f"{key}.json"

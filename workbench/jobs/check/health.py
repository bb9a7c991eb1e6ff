"""Rules about the file systems of a card: errors, a device that is too small, read-only by accident."""

from __future__ import annotations

from collections.abc import Iterator

from workbench.card.health import VolumeHealth
from workbench.card.paths import VolumePath
from workbench.card.read_through import read_through
from workbench.card.tree import Item
from workbench.errors import CardError
from workbench.jobs.check.checked_card import CheckedCard
from workbench.jobs.check.finding import Finding
from workbench.jobs.check.rule import Rule

FAULTY = Rule("file-system-errors", "error", "has a file system with errors")
NOT_CLOSED = Rule("not-closed", "warning", "was not closed in order the last time")
TOO_LARGE = Rule("larger-than-device", "error", "has a file system that is larger than its device")
READ_ONLY = Rule("read-only", "note", "is mounted read-only")
UNREADABLE = Rule("unreadable-file", "error", "cannot be read")
RULES = (FAULTY, NOT_CLOSED, TOO_LARGE, READ_ONLY, UNREADABLE)


def find(card: CheckedCard) -> Iterator[Finding]:
    """Volume by volume; with `is_thorough` every file is read."""
    for volume in card.health.volumes if card.health is not None else ():
        if volume.role in card.roles:
            yield from _judge(volume)
    if card.is_thorough:
        for role in card.roles:
            yield from _read_all(card, role)


def _judge(volume: VolumeHealth) -> Iterator[Finding]:
    at = VolumePath(volume.role, "")
    fsck = "make a copy of the card, then check the volume with fsck while it is not mounted"
    if volume.has_failed:
        yield FAULTY.found(at, f"the system made it read-only after an error: {fsck}")
    elif volume.error_count:
        yield FAULTY.found(at, f"the system counts errors in it: {fsck}")
    if volume.cleanness == "failing":
        yield FAULTY.found(at, "the card answered with errors at some time: copy what you need from it soon")
    if volume.cleanness == "dirty":
        yield NOT_CLOSED.found(at, f"it was pulled out or switched off while it was written to: {fsck}")
    if volume.is_larger_than_device:
        message = (
            "its file system ends behind the end of its device: what lies there cannot be read or written"
        )
        yield TOO_LARGE.found(at, message)
    if volume.read_only and not volume.has_failed:
        yield READ_ONLY.found(at, f"the volume {volume.read_only}")


def _read_all(card: CheckedCard, role: str) -> Iterator[Finding]:
    """Read every file to its end; each that fails is named."""
    for folder in card.folders(role):
        here = VolumePath(role, folder)
        try:
            items = card.tree.list(here)
        except CardError as error:
            yield UNREADABLE.found(here, _reason(error))
            continue
        for item in items:
            yield from _read_one(card, item)


def _read_one(card: CheckedCard, item: Item) -> Iterator[Finding]:
    if item.kind != "file":
        return
    try:
        read = read_through(card.tree, item.at)
    except CardError as error:
        yield UNREADABLE.found(item.at, _reason(error))
        return
    except OSError as error:
        yield UNREADABLE.found(item.at, error.strerror or "the system refused it")
        return
    if read < item.size:
        yield UNREADABLE.found(item.at, "ends before its length: a part of it is lost")


def _reason(error: CardError) -> str:
    """The reason alone: the finding has the place."""
    return error.message.partition(": ")[2].partition(";")[0] or error.message

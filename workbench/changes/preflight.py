"""Everything that can be known to go wrong is found here, before the first byte is written."""

from __future__ import annotations

import hashlib
import os
from collections.abc import Mapping

from workbench.card.names import check_name, fold_name
from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.card.profile import NamesRule
from workbench.card.read_only import judge_read_only
from workbench.card.tree import Item
from workbench.card.volumes import Card
from workbench.changes.fingerprint import WHOLE_BYTES, fingerprint_file, name_content, take_fingerprint
from workbench.changes.ground import Ground, explain, fold_host, kind_of, read_chunks
from workbench.changes.ledger import count_releasable, open_grounds
from workbench.changes.locate import names_inside
from workbench.changes.metadata import Metadata, read_metadata
from workbench.changes.opening_up import refuse_unasked
from workbench.changes.overlay import Node, Overlay
from workbench.changes.pack import PACKED_BYTES
from workbench.changes.plan import Plan, digest
from workbench.changes.record import FolderOrder
from workbench.changes.space import Need, Room, Sizes, count_need, read_room, refuse_full
from workbench.changes.steps import Prepared
from workbench.changes.touched import Touched, Work, list_touched, locate_folder
from workbench.errors import CardError, PreflightError
from workbench.shown import shown
from workbench.values import dataclass, replace

_FORGETFUL = ("overlay", "aufs", "tmpfs", "ramfs")
"""File systems that keep what is written in memory, or in a layer that a device drops."""
_HELD_BYTES = 64 * 1024 * 1024
"""Replaced files are read once and held up to this much in all, to be packed a moment later."""


@dataclass(frozen=True, slots=True)
class Survey:
    """What a plan comes to on the card as it is now."""

    work: Work
    orders: tuple[FolderOrder, ...]
    sizes: Mapping[str, Sizes]
    """By role."""
    needs: Mapping[str, Need]
    rooms: Mapping[str, Room]
    originals: Mapping[VolumePath, Original]
    """The files that are replaced, by where they are now."""
    on_host: frozenset[str] = frozenset()
    """Roles of the volumes that are too full to keep what the plan replaces."""


@dataclass(frozen=True, slots=True)
class Original:
    """A file that a write replaces, as it was read once."""

    size: int
    metadata: Metadata
    content: bytes | None
    """None where it is too large to be held."""
    mark: tuple[int, int, int]
    """Inode, size and modification time: whether it is still the same a moment later."""


class GroundTree:
    """The card as an overlay needs it, read without following any link."""

    def __init__(self, grounds: Mapping[str, Ground]) -> None:
        self.grounds = grounds
        self._spellings: dict[VolumePath, dict[str, str]] = {}

    def names_rule(self, volume: str) -> NamesRule:
        return "fat" if self.grounds[volume].fat else "exact"

    def spell(self, at: VolumePath) -> str:
        ground = self.grounds[at.volume]
        if not ground.fat:
            return at.name
        if at.parent not in self._spellings:
            names = ground.names(at.parent.path)
            self._spellings[at.parent] = {fold_host(name): name for name in names}
        return self._spellings[at.parent].get(fold_host(at.name), at.name)

    def stat(self, at: VolumePath) -> Item | None:
        found = self.grounds[at.volume].lstat(at.path)
        if found is None:
            return None
        return Item(at, kind_of(found), found.st_size, found.st_mode & 0o7777, found.st_mtime_ns)


def preflight(card: Card, plan: Plan, *, keep_on: bool = False) -> Survey:
    """Check every precondition of a plan, write nothing, and say what room it needs.

    `keep_on`: what a volume is too full to keep may be kept on the host.

    Raises:
        PreflightError: a precondition fails, or a volume is too full or read-only.
        NameRefusedError: a new name would not survive on the card.
        CardError: a volume is absent or cannot be read.
    """
    refuse_read_only(card, plan)
    with open_grounds([card.volume(role) for role in plan.volumes]) as grounds:
        return survey_plan(card, plan, grounds, keep_on=keep_on)


def refuse_read_only(card: Card, plan: Plan) -> None:
    """Refuse a plan with nothing in it, and one for a volume that cannot be written.

    Raises:
        PreflightError: with the reason.
    """
    if not plan.steps:
        raise PreflightError("the plan has no steps; there is nothing to write")
    for role in plan.volumes:
        filesystem = card.volume(role).filesystem.lower()
        if card.source == "device" and filesystem in _FORGETFUL:
            raise PreflightError(
                f"the volume {shown(role)} is a {filesystem} on this device: what is written there is gone "
                "when it starts again. Nothing was changed; put the card into a reader, or find out where "
                "the device keeps its files for good.",
                path=f"{role}:",
            )
        if card.volume(role).read_only:
            refuse_unasked(judge_read_only(card, role))


def survey_plan(card: Card, plan: Plan, grounds: Mapping[str, Ground], *, keep_on: bool = False) -> Survey:
    """As `preflight`, on volumes that are already open."""
    try:
        return _survey(card, plan, grounds, keep_on=keep_on)
    except OSError as error:
        raise CardError(f"the card cannot be read: {explain(error)}. Nothing was changed.") from error


def _survey(card: Card, plan: Plan, grounds: Mapping[str, Ground], *, keep_on: bool) -> Survey:
    overlay = Overlay(GroundTree(grounds))
    for step in plan.steps:
        overlay.carry_out(step)
    _refuse_aside(overlay)
    originals = _read_originals(grounds, overlay)
    if not plan.undoes:
        _check_names(card, overlay, grounds)
    _touch_listed(overlay, plan)
    work = _take_fingerprints(overlay, list_touched(overlay), grounds, originals)
    rooms = {role: read_room(grounds[role]) for role in plan.volumes}
    sizes, needs, on_host = {}, {}, set()
    for role in plan.volumes:
        sizes[role] = measure(role, work, overlay)
        needs[role] = count_need(role, rooms[role], sizes[role])
        if needs[role].total <= rooms[role].free:
            continue
        elsewhere = _copy_to_host(role, work)
        less = measure(role, elsewhere, overlay)
        lesser = count_need(role, rooms[role], less)
        if not keep_on:
            helps = lesser.total <= rooms[role].free
            refuse_full(needs[role], rooms[role], count_releasable(grounds[role]), keep_on_helps=helps)
        refuse_full(lesser, rooms[role], count_releasable(grounds[role]))
        work, sizes[role], needs[role] = elsewhere, less, lesser
        on_host.add(role)
    orders = _list_orders(overlay, plan, grounds)
    return Survey(work, orders, sizes, needs, rooms, originals, frozenset(on_host))


def _copy_to_host(role: str, work: Work) -> Work:
    """The same work, with whole copies of large files on the host."""
    things = tuple(
        replace(thing, copy="host") if thing.volume == role and thing.copy == "kept" else thing
        for thing in work.things
    )
    return Work(things, work.contents, work.on_host | {role})


def _refuse_aside(overlay: Overlay) -> None:
    for node in overlay.touched:
        if node.parent is not None and overlay.is_aside(node.parent):
            raise PreflightError(
                f"the plan leaves {shown(node.name)} in its passing place in the ledger; that is a fault of "
                "the plan, nothing was changed.",
                path=f"{node.volume}:",
            )


def _read_originals(grounds: Mapping[str, Ground], overlay: Overlay) -> dict[VolumePath, Original]:
    """Read every file that is replaced; each has to be what the plan was made on."""
    found: dict[VolumePath, Original] = {}
    held = 0
    for at, origin, sha256 in overlay.expected:
        original = _read_original(grounds[origin.volume], origin, sha256, hold=held < _HELD_BYTES)
        if original is None:
            raise PreflightError(
                f"{shown(str(at))} has changed since the plan was made. Nothing was written; plan anew.",
                path=str(at),
            )
        held += 0 if original.content is None else original.size
        found[origin] = original
    return found


def _read_original(ground: Ground, origin: VolumePath, sha256: str, *, hold: bool) -> Original | None:
    with ground.reading(origin.path) as handle:
        mark = mark_of(os.fstat(handle))
        metadata = read_metadata(ground, handle)
        content: bytes | None = None
        if hold and mark[1] <= PACKED_BYTES:
            content = b"".join(read_chunks(handle))
            found, size = digest(content), len(content)
        else:
            hashed, size = hashlib.sha256(), 0
            for piece in read_chunks(handle):
                hashed.update(piece)
                size += len(piece)
            found = hashed.hexdigest()
    return Original(size, metadata, content, mark) if found == sha256 else None


def mark_of(found: os.stat_result) -> tuple[int, int, int]:
    """What shows that a file was not written meanwhile."""
    return (found.st_ino, found.st_size, found.st_mtime_ns)


# Names


def _check_names(card: Card, overlay: Overlay, grounds: Mapping[str, Ground]) -> None:
    """Every name that the plan gives has to be legal to the device and to the host, and the only one."""
    folders: dict[Node, list[Node]] = {}
    for node in overlay.touched:
        if node.parent is None or (node.replaces is not None and node.replaces.name == node.name):
            continue
        if node.start is not None and node.start[1] == node.name and node.start[0] is node.parent:
            continue
        rule = _rule(card, node.volume, grounds)
        if node.start is None or node.start[1] != node.name:
            check_name(node.name, rule)
        if rule == "fat":
            folders.setdefault(node.parent, []).append(node)
    for folder, newcomers in folders.items():
        _refuse_collisions(folder, newcomers, overlay, grounds[folder.volume])


def _rule(card: Card, role: str, grounds: Mapping[str, Ground]) -> NamesRule:
    """The stricter of the device's rule and the host's."""
    known = card.profile.volumes.get(role) if card.profile is not None else None
    return "exact" if known is not None and known.names == "exact" and not grounds[role].fat else "fat"


def _refuse_collisions(folder: Node, newcomers: list[Node], overlay: Overlay, ground: Ground) -> None:
    names = _names_after(folder, overlay, ground)
    for node in newcomers:
        folded = fold_name(node.name, "fat")
        same = [name for name in names if name != node.name and fold_name(name, "fat") == folded]
        if same:
            place = overlay.place_of(node)
            raise PreflightError(
                f"{shown(str(place))} and {shown(same[0])} beside it would be one name to the device. "
                "Nothing was changed; choose another name.",
                path=str(place),
            )


def _names_after(folder: Node, overlay: Overlay, ground: Ground) -> list[str]:
    names = [child.name for child in folder.children.values() if child is not None]
    if folder.origin is not None:
        known = folder.children
        there = ground.names(folder.origin.path)
        names += [name for name in there if overlay.key(folder.volume, name) not in known]
    return names


# What it comes to


def _touch_listed(overlay: Overlay, plan: Plan) -> None:
    """Everything in a folder whose order is set may have to move."""
    for listing in plan.listings:
        for name in listing.names:
            node = overlay.find(listing.folder.child(name))
            if node is None:
                raise PreflightError(
                    f"{shown(str(listing.folder.child(name)))} is in the order that the plan wants, but "
                    "will not be there. Nothing was changed; plan anew.",
                    path=str(listing.folder),
                )
            overlay.touch(node)


def _list_orders(overlay: Overlay, plan: Plan, grounds: Mapping[str, Ground]) -> tuple[FolderOrder, ...]:
    orders = {}
    for listing in plan.listings:
        folder = overlay.find(listing.folder)
        assert folder is not None
        ground = grounds[listing.folder.volume]
        there = ground.names(folder.origin.path) if folder.origin is not None else []
        before = tuple(name for name in there if name != LEDGER_FOLDER)
        where = locate_folder(overlay, folder)
        orders[listing.folder] = FolderOrder(listing.folder.volume, where, before, listing.names)
    return tuple(orders.values())


def _take_fingerprints(
    overlay: Overlay, work: Work, grounds: Mapping[str, Ground], originals: Mapping[VolumePath, Original]
) -> Work:
    inside = names_inside(work.things)
    hashed = {origin: sha256 for _, origin, sha256 in overlay.expected}
    things = []
    for node, thing in zip(overlay.touched, work.things, strict=True):
        if node.content is not None:
            things.append(_describe_new(node, thing))
        elif node.origin is None:
            things.append(thing)
        elif node.origin in hashed and originals[node.origin].size <= WHOLE_BYTES:
            known = name_content(originals[node.origin].size, hashed[node.origin])
            things.append(_describe_standing(grounds[thing.volume], node, thing, known))
        else:
            taken = _fingerprint(grounds[thing.volume], node.origin, inside.get(thing.id, frozenset()))
            things.append(_describe_standing(grounds[thing.volume], node, thing, taken))
    return Work(tuple(things), work.contents)


def _fingerprint(ground: Ground, origin: VolumePath, inside: frozenset[str]) -> str:
    try:
        taken = take_fingerprint(ground, origin.path, inside)
    except OSError as error:
        raise PreflightError(
            f"{shown(str(origin))} cannot be read: {explain(error)}. Nothing was changed.", path=str(origin)
        ) from error
    if taken is None:
        raise PreflightError(f"{shown(str(origin))} is no longer there. Nothing was changed; plan anew.")
    return taken


def _describe_standing(ground: Ground, node: Node, thing: Touched, fingerprint: str) -> Touched:
    assert node.origin is not None
    found = ground.lstat(node.origin.path)
    hints = (0, 0) if found is None else (found.st_ino, found.st_mtime_ns)
    copy = None
    if node.replaced_by is not None and node.item is not None:
        copy = "pack" if node.item.size <= PACKED_BYTES else "kept"
    return replace(thing, fingerprint=fingerprint, hints=hints, copy=copy)


def _describe_new(node: Node, thing: Touched) -> Touched:
    content = node.content
    if isinstance(content, Prepared):
        fingerprint = name_content(content.size, content.sha256)
        size = content.size
        if size > WHOLE_BYTES:
            fingerprint = _sample_prepared(content)
    else:
        assert content is not None
        fingerprint, size = name_content(len(content), hashlib.sha256(content).hexdigest()), len(content)
    return replace(thing, fingerprint=fingerprint, copy="pack" if size <= PACKED_BYTES else None)


def _sample_prepared(content: Prepared) -> str:
    from pathlib import Path

    path = Path(content.file)
    try:
        with Ground("host", path.parent, fat=False) as folder:
            return fingerprint_file(folder, path.name, content.size)
    except OSError as error:
        raise PreflightError(f"the prepared file {shown(content.file)} is gone; plan anew.") from error


def measure(role: str, work: Work, overlay: Overlay) -> Sizes:
    """What room the work takes on one volume."""
    nodes = dict(zip((thing.id for thing in work.things), overlay.touched, strict=True))
    things = [thing for thing in work.things if thing.volume == role]
    new = {thing.id: _size(work, thing) for thing in things if thing.id in work.contents}
    replaced, copied = [], []
    for thing in things:
        item = nodes[thing.id].item
        if thing.replaced_by is None or item is None:
            continue
        if thing.copy in ("pack", "host"):
            replaced.append((item.size, new.get(thing.replaced_by, 0)))
        else:
            copied.append(item.size)
    grown = {(place.base, place.path.rpartition("/")[0]) for thing in things for place in thing.visited}
    changed = [edit for thing in things for level in thing.edits for edit in level]
    edits = sum((len(edit.new) + edit.end - edit.start) * 2 + 160 for edit in changed)
    return Sizes(
        new=tuple(new.values()),
        replaced=tuple(replaced),
        copied=tuple(copied),
        folders_made=sum(thing.is_made_folder for thing in things),
        folders_grown=len(grown) + len(things) // 64,
        record=4096 + 1024 * len(work.things) + edits,
        on_host=role in work.on_host,
    )


def _size(work: Work, thing: Touched) -> int:
    content = work.contents[thing.id]
    return content.size if isinstance(content, Prepared) else len(content)

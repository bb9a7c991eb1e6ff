"""Makes a change ready on its volumes: new content staged, old content kept, the record written, all flushed.

Nothing that the device reads is touched here; whatever fails, `discard` leaves the card as it was.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import time
from collections.abc import Callable, Iterator, Mapping

from workbench.card.paths import LEDGER_FOLDER, VolumePath
from workbench.changes.ground import Flush, Ground, explain, read_chunks, write_all
from workbench.changes.host_keep import PACK, HostCopy, check_keep
from workbench.changes.host_keeping import HostKeeping, copy_thing, folder_name, is_to_hand_over
from workbench.changes.ledger import (
    CHANGES,
    VOLUME_FILE,
    count_releasable,
    list_changes,
    read_volume_id,
)
from workbench.changes.marks import make_marks
from workbench.changes.metadata import hide_folder, put_metadata
from workbench.changes.moved_copies import copy_moved
from workbench.changes.pack import Packed, write_pack
from workbench.changes.plan import Plan, digest
from workbench.changes.plan_file import step_to_json
from workbench.changes.preflight import Survey, mark_of
from workbench.changes.record import Record, write_record
from workbench.changes.remake import dress, remove_tree
from workbench.changes.space import Room, count_need, count_reserve, read_room, refuse_full
from workbench.changes.spans import Span, describe_spans
from workbench.changes.steps import Prepared
from workbench.changes.touched import Touched
from workbench.errors import PreflightError
from workbench.manifests.document import apply_edits
from workbench.shown import shown
from workbench.values import dataclass, field, replace

Tick = Callable[[str], None]

_FULL = (errno.ENOSPC, errno.EDQUOT, errno.EIO)
_WRITTEN_RESERVE = 1024 * 1024
"""Up to this size zeros are written: where a file system cannot allocate, the C library writes each block."""


@dataclass(slots=True)
class Preparation:
    """A change being made ready. `record` grows until it is written."""

    grounds: Mapping[str, Ground]
    survey: Survey
    record: Record
    tick: Tick
    fresh: list[Ground] = field(default_factory=list)
    """Volumes that had no ledger before."""
    flush: Flush = field(default_factory=Flush)
    keeping: HostKeeping | None = None
    """Where copies go that a volume is too full for; None where nobody asked for that."""

    def run(self) -> Record:
        """Make it ready on every volume, flushed.

        Raises:
            PreflightError: prepared content is not what it should be, or a volume turned out too full.
            OSError: the card refused.
        """
        for ground in self.grounds.values():
            self._lay_out(ground)
        self._fill_record()
        for ground in self.grounds.values():
            self._stage(ground)
            self._keep(ground)
            self._reserve(ground)
        self._check_host()
        raw = write_record(self.record)
        for ground in self.grounds.values():
            with ground.creating(f"{self.record.folder}/plan.json", self.flush) as handle:
                write_all(handle, raw)
        self.flush.run()
        for ground in self.grounds.values():
            self._flush_folders(ground)
        return self.record

    def discard(self) -> None:
        """Take away all that was prepared; the ledger too where it was made for this."""
        self.flush.drop()
        if self.keeping is not None:
            self.keeping.discard()
        for ground in self.grounds.values():
            remove_tree(ground, self.record.folder)
        for ground in self.fresh:
            with contextlib.suppress(OSError):
                ground.remove_folder(CHANGES)
                ground.remove_file(VOLUME_FILE)
                ground.remove_folder(LEDGER_FOLDER)

    def _lay_out(self, ground: Ground) -> None:
        if ground.lstat(LEDGER_FOLDER) is None:
            self.fresh.append(ground)
            ground.make_folder(LEDGER_FOLDER)
            hide_folder(ground, LEDGER_FOLDER)
        if ground.lstat(CHANGES) is None:
            ground.make_folder(CHANGES)
        if read_volume_id(ground) is None:
            self._make_volume_file(ground)
        folder = self.record.folder
        ground.make_folder(folder)
        make_marks(ground, f"{folder}/marks", self.record.id, self.flush)
        ground.make_folder(f"{folder}/stage")
        ground.make_folder(f"{folder}/kept")

    def _fill_record(self) -> None:
        """Volume ids, and what each replaced file carries besides its bytes."""
        ids = {role: read_volume_id(ground) or "" for role, ground in self.grounds.items()}
        things = tuple(self._add_metadata(thing) for thing in self.record.things)
        self.record = replace(self.record, volumes=ids, things=things)

    def _add_metadata(self, thing: Touched) -> Touched:
        if thing.replaced_by is None:
            return thing
        return replace(thing, metadata=self.survey.originals[self._start(thing)].metadata)

    def _start(self, thing: Touched) -> VolumePath:
        assert thing.initial is not None
        return self.record.place(thing.volume, thing.initial, at_end=False)

    # New content

    def _stage(self, ground: Ground) -> None:
        unit = 0
        for thing in self.record.of_volume(ground.role):
            path = f"{self.record.folder}/stage/{thing.id}"
            if thing.is_made_folder:
                ground.make_folder(path)
            elif thing.id in self.survey.work.contents:
                self.tick(thing.visited[0].path)
                blocks = self._stage_file(ground, thing, path, self.survey.work.contents[thing.id])
                unit = unit or self._calibrate(ground, thing, blocks)

    def _stage_file(self, ground: Ground, thing: Touched, path: str, content: bytes | Prepared) -> int:
        """Write one new file; the bytes that the file system gave it."""
        with ground.creating(path, self.flush) as handle:
            if isinstance(content, Prepared):
                _copy_prepared(content, handle)
            else:
                write_all(handle, content)
            dress(ground, self.record, thing, handle)
            return getattr(os.fstat(handle), "st_blocks", 0) * 512

    def _calibrate(self, ground: Ground, thing: Touched, taken: int) -> int:
        """Count again with the unit that the first staged file shows, where it is larger than was thought."""
        room = self.survey.rooms[ground.role]
        size = int(thing.fingerprint.split(":")[1])
        if taken <= room.round(size) or size > taken:
            return room.unit
        unit = min(taken, 32 * 2**20)
        larger = Room(room.free, unit)
        refuse_full(
            count_need(ground.role, larger, self.survey.sizes[ground.role]),
            larger,
            count_releasable(ground),
            keep_on_helps=None if ground.role in self.survey.on_host else False,
        )
        return unit

    # Old content

    def _keep(self, ground: Ground) -> None:
        """Pack what may have to be made again; copy what is too large for that."""
        things = self.record.of_volume(ground.role)
        described = {thing.id: thing for thing in things}
        folder = self.record.folder
        index: dict[int, Packed] = {}
        contents = self._contents_to_pack(ground, described)
        if ground.role in self.survey.on_host:
            index = self._keep_on_host(ground, things, contents)
        elif any(thing.copy == "pack" for thing in things):
            index = write_pack(ground, f"{folder}/kept.pack", contents, self.flush)
        for thing in things:
            if thing.copy == "kept":
                self._copy_whole(ground, thing, f"{folder}/kept/{thing.id}")
        room = read_room(ground)
        spare = (room.free - count_need(ground.role, room, self.survey.sizes[ground.role]).total) // 2
        moved = copy_moved(
            ground,
            folder,
            tuple(described.values()),
            lambda thing: self._start(thing).path,
            spare,
            self.flush,
        )
        described |= moved.things
        packs = {**self.record.packs, ground.role: {**index, **moved.index}}
        everything = tuple(described.get(thing.id, thing) for thing in self.record.things)
        self.record = replace(self.record, packs=packs, things=everything)

    def _keep_on_host(
        self, ground: Ground, things: tuple[Touched, ...], contents: Iterator[tuple[int, bytes]]
    ) -> dict[int, Packed]:
        """The same on this computer, and a copy of what is removed, which leaves the card in the end."""
        assert self.keeping is not None
        host, keep = self.keeping.open(ground.role)
        inner = folder_name(self.record, ground.role)
        with self.keeping.telling():
            index = write_pack(host, f"{inner}/{PACK}", contents, self.flush)
            copies: list[HostCopy] = []
            for thing in things:
                if thing.copy == "host" or is_to_hand_over(thing, things):
                    rows = copy_thing(ground, self._start(thing).path, thing, host, inner)
                    copies += rows or ()
        keep = replace(keep, copies=tuple(copies))
        self.record = replace(self.record, kept_on={**self.record.kept_on, ground.role: keep})
        return index

    def _check_host(self) -> None:
        """Read again what is kept on the host: nothing is replaced before that is found right."""
        if self.keeping is None or not self.record.kept_on:
            return
        with self.keeping.telling():
            self.flush.run()
        self.keeping.flush_folders()
        for role in self.record.kept_on:
            check_keep(self.record, role)

    def _contents_to_pack(self, ground: Ground, described: dict[int, Touched]) -> Iterator[tuple[int, bytes]]:
        """Old contents, then those new ones that cannot be had by making the edits again."""
        for thing in list(described.values()):
            if thing.copy != "pack" or thing.is_new:
                continue
            old = self._read_old(ground, thing)
            yield thing.id, old
            new = described.get(thing.replaced_by or 0)
            spans = None if new is None or not all(new.edits) else _describe_edits(old, new)
            if new is not None and spans:
                described[new.id] = replace(new, copy="edits")
                self.record = replace(self.record, spans={**self.record.spans, new.id: spans})
        for thing in list(described.values()):
            if thing.copy == "pack" and thing.is_new:
                yield thing.id, _read_content(self.survey.work.contents[thing.id])

    def _read_old(self, ground: Ground, thing: Touched) -> bytes:
        """A file that is replaced; it has to be what was read before."""
        place = self._start(thing)
        known, now = self.survey.originals[place], ground.lstat(place.path)
        if known.content is not None and now is not None and mark_of(now) == known.mark:
            return known.content
        old = ground.read(place.path)
        if not thing.fingerprint.endswith(f":{digest(old)}"):
            raise PreflightError(
                f"{shown(str(place))} changed while it was being kept. Nothing was written; close the "
                "program that writes there and try again.",
                path=str(place),
            )
        return old

    def _copy_whole(self, ground: Ground, thing: Touched, path: str) -> None:
        assert thing.metadata is not None
        with ground.reading(self._start(thing).path) as source, ground.creating(path, self.flush) as handle:
            for piece in read_chunks(source):
                write_all(handle, piece)
            put_metadata(ground, handle, thing.metadata, times=True)

    def _reserve(self, ground: Ground) -> None:
        """Room taken now, so that going back can never fail for want of it."""
        size = count_reserve(read_room(ground), self.survey.sizes[ground.role])
        with ground.creating(f"{self.record.folder}/reserve", self.flush) as handle:
            if size <= _WRITTEN_RESERVE:
                _write_zeros(handle, size)
                return
            try:
                os.posix_fallocate(handle, 0, size)
            except (OSError, AttributeError) as error:
                if isinstance(error, OSError) and error.errno in _FULL:
                    raise
                _write_zeros(handle, size)

    # The ledger

    def _make_volume_file(self, ground: Ground) -> None:
        text = (
            "# This volume's own id, by which Cardwright's ledger knows it again.\n"
            f'id = "{os.urandom(16).hex()}"\n'
        )
        with ground.creating(VOLUME_FILE, self.flush) as handle:
            write_all(handle, text.encode("ascii"))

    def _flush_folders(self, ground: Ground) -> None:
        folder = self.record.folder
        for path in (f"{folder}/stage", f"{folder}/kept", folder, CHANGES):
            ground.sync_folder(path)
        if ground in self.fresh:
            ground.sync_folder(LEDGER_FOLDER)
            ground.sync_folder("")


def start_record(plan: Plan, survey: Survey, grounds: Mapping[str, Ground], number: int) -> Record:
    """The record of a change that is about to be prepared."""
    ids = {role: list_changes(ground) for role, ground in grounds.items()}
    return Record(
        id=f"{number:04d}-{os.urandom(3).hex()}",
        number=number,
        title=plan.title,
        time=time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime()),
        undoes=plan.undoes,
        volumes={},
        previous={role: one[-1] if one else "" for role, one in ids.items()},
        things=survey.work.things,
        orders=survey.orders,
        steps=tuple(step_to_json(step, inline=False) for step in plan.steps),
        notes=plan.notes,
        brought=plan.packs,
        wishes=plan.wishes,
        unwished=plan.unwished,
    )


def _describe_edits(old: bytes, new: Touched) -> tuple[tuple[Span, ...], ...] | None:
    """What each level of edits replaced; None where they do not make the new content of the old."""
    levels = []
    for edits in new.edits:
        try:
            edited = apply_edits(old, edits)
        except ValueError:
            return None
        levels.append(describe_spans(old, edited, edits))
        old = edited
    return tuple(levels) if new.fingerprint.endswith(f":{digest(old)}") else None


def _read_content(content: bytes | Prepared) -> bytes:
    if isinstance(content, bytes):
        return content
    with open(content.file, "rb") as prepared:
        raw = prepared.read()
    if digest(raw) != content.sha256:
        raise _not_prepared(content)
    return raw


def _copy_prepared(content: Prepared, handle: int) -> None:
    hashed, size = hashlib.sha256(), 0
    try:
        source = os.open(content.file, os.O_RDONLY)
    except OSError as error:
        raise PreflightError(
            f"the prepared file {shown(content.file)} cannot be read: {explain(error)}. Nothing was changed; "
            "plan anew."
        ) from error
    try:
        for piece in read_chunks(source):
            hashed.update(piece)
            size += len(piece)
            write_all(handle, piece)
    finally:
        os.close(source)
    if (size, hashed.hexdigest()) != (content.size, content.sha256):
        raise _not_prepared(content)


def _not_prepared(content: Prepared) -> PreflightError:
    return PreflightError(
        f"the prepared file {shown(content.file)} is not what the plan was made with. Nothing was changed; "
        "plan anew."
    )


def _write_zeros(handle: int, size: int) -> None:
    zeros = bytes(64 * 1024)
    while size > 0:
        write_all(handle, zeros[:size])
        size -= len(zeros)

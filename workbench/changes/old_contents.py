"""Gives files their old content back, or takes a change's own edits out of what they have become."""

from __future__ import annotations

from collections.abc import Mapping

from workbench.card.paths import VolumePath
from workbench.changes.fingerprint import name_content, take_fingerprint
from workbench.changes.ground import Ground
from workbench.changes.kept import read_kept
from workbench.changes.overlay import Node
from workbench.changes.plan import digest
from workbench.changes.planned_tree import read_content
from workbench.changes.remake import read_copy, replay
from workbench.changes.since import Since, is_inside_kept
from workbench.changes.spans import place_edits, reverse_edits, take_back_spans
from workbench.changes.steps import MakeFolder, Prepared, Remove, Write
from workbench.changes.take_back import find_changed_line, is_text, take_back_edits
from workbench.changes.touched import Touched
from workbench.errors import LedgerError, ManifestError
from workbench.manifests.document import Edit, apply_edits
from workbench.shown import shown


class OldContents:
    """The contents that one change wrote, taken back."""

    def __init__(self, since: Since, grounds: Mapping[str, Ground]) -> None:
        self.since = since
        self.record = since.record
        self.grounds = grounds

    def is_in_ledger(self, thing: Touched) -> bool:
        """Whether what replaced it was taken away, alone or with a folder, and may come back first."""
        place = self.since.place(self.since.node(thing.replaced_by or thing.id))
        return place is None or place.is_in_ledger

    def is_only_made(self, thing: Touched) -> bool:
        """Whether it is a file that was not there before, in any form."""
        return thing.is_new and thing.kind == "file" and thing.replaces is None

    def take_away(self, thing: Touched) -> bool:
        """A file that the change made goes, if it is as it was made; False where it must come back first."""
        node = self.since.node(thing.id)
        place = self.since.place(node)
        if node is None or place is None:
            return True
        if place.is_in_ledger:
            return not is_inside_kept(place)
        if self._fingerprint(node) == thing.fingerprint:
            self.since.do(Remove(place))
        else:
            line = self._find_line(thing, thing, self._read(node))
            self.since.refuse(place, thing, "was changed since, and this change made it", line)
        return True

    def give_back(self, thing: Touched) -> None:
        """A file that the change wrote over gets its old content, or loses the change's own edits."""
        assert thing.replaced_by is not None
        written = self.record.thing(thing.replaced_by)
        node = self.since.node(written.id)
        place = self.since.place(node)
        if node is None or place is None or place.is_in_ledger:
            self._write_anew(thing, written)
            return
        now = self._read(node)
        if self._fingerprint(node) == written.fingerprint:
            self._write_old(thing, written, node, place, now)
            return
        if self._fingerprint(node) == thing.fingerprint and self.since.is_edited_outside(written):
            self.since.notes.append(f"{shown(str(place))} holds what it held before already; it stays.")
            return
        for step in self._take_back(thing, written, place, now) or ():
            self.since.do(step)

    def _write_old(self, thing: Touched, written: Touched, node: Node, place: VolumePath, now: bytes) -> None:
        """The file is as the change left it."""
        assert thing.metadata is not None
        mode = thing.metadata.mode if node.item is None or node.item.mode != thing.metadata.mode else None
        is_same = thing.fingerprint == written.fingerprint
        if mode is None and is_same:
            return
        edits = self._find_reverse(thing, written, now)
        old = now if is_same and self._is_gone(thing) else self._try_old_content(thing, now, edits)
        if old is None:
            self.since.refuse_gone(place, "cannot get its old content back")
            return
        self.since.do(Write(place, old, digest(now), edits, mode))

    def _find_reverse(self, thing: Touched, written: Touched, now: bytes) -> tuple[Edit, ...]:
        """Edits that make the old content of what the change left; none where that is not known."""
        if len(written.edits) != 1 or thing.copy != "pack":
            return ()
        if self._is_gone(thing):
            spans = self.record.spans.get(written.id)
            edits = reverse_edits(written.edits[0], spans[0]) if spans else ()
            old = apply_edits(now, edits)
            return edits if name_content(len(old), digest(old)) == thing.fingerprint else ()
        old = self._kept_bytes(thing)
        edits = take_back_edits(old, now, now, written.edits[0]) or ()
        return edits if apply_edits(now, edits) == old else ()

    def _try_old_content(
        self, thing: Touched, now: bytes, edits: tuple[Edit, ...]
    ) -> bytes | Prepared | None:
        if not self._is_gone(thing):
            return self._old_content(thing)
        written = self.record.thing(thing.replaced_by or 0)
        old = now
        spans = self.record.spans.get(written.id, ())
        for level, known in reversed(list(zip(written.edits, spans, strict=False))):
            old = apply_edits(old, reverse_edits(level, known))
        return old if edits or name_content(len(old), digest(old)) == thing.fingerprint else None

    def _write_anew(self, thing: Touched, written: Touched) -> None:
        """What it was replaced by is gone: by this change itself, or by a later one."""
        home = self.since.home(thing)
        folder = self.since.place(home[0]) if home is not None else None
        own = written.final is not None and self.record.place(
            thing.volume, written.final, at_end=True
        ).path.startswith(self.record.folder + "/")
        start = self.record.place(thing.volume, thing.visited[0], at_end=False)
        if not own or home is None or folder is None or self.since.overlay.child(*home) is not None:
            self.since.refuse(start, written, "was moved, replaced or removed since")
            return
        if self._is_gone(thing):
            self.since.refuse_gone(start, "cannot come back")
            return
        assert thing.metadata is not None
        self.since.do(Write(folder.child(home[1]), self._old_content(thing), None, (), thing.metadata.mode))

    def _take_back(
        self, thing: Touched, written: Touched, place: VolumePath, now: bytes
    ) -> list[Write] | None:
        """Writes that undo each level of edits, last first; None (and a conflict) where one has no place."""
        if self._is_gone(thing) and written.id not in self.record.spans:
            self.since.refuse_gone(place, "cannot get its old content back")
            return None
        if not written.edits or not all(written.edits) or thing.copy != "pack":
            line = self._find_line(thing, written, now)
            self.since.refuse(
                place, written, "was changed since, in more than this change's own places", line
            )
            return None
        writes: list[Write] = []
        start = now
        for level in reversed(range(len(written.edits))):
            taken = self._take_back_level(thing, written, level, now)
            if taken is None:
                line = self._find_line(thing, written, start)
                self.since.refuse(
                    place, written, "was changed since, in the very places that this change edited", line
                )
                return None
            new = apply_edits(now, taken)
            writes.append(Write(place, new, digest(now), taken))
            now = new
        line = _find_fault(place.name, now)
        if line is not None and _find_fault(place.name, start) is None:
            self.since.refuse(
                place, written, "was changed since, and would be malformed without this change", line
            )
            return None
        return writes

    def _take_back_level(
        self, thing: Touched, written: Touched, level: int, now: bytes
    ) -> tuple[Edit, ...] | None:
        edits = written.edits[level]
        if self._is_gone(thing):
            return take_back_spans(now, edits, self.record.spans[written.id][level])
        before = replay(self._kept_bytes(thing), written.edits[:level])
        return take_back_edits(before, apply_edits(before, edits), now, edits)

    def _find_line(self, thing: Touched, written: Touched, now: bytes) -> int | None:
        """The first line in the file's present content that is in the way of taking the change back."""
        if not is_text(now):
            return None
        try:
            after = self._left_content(thing, written)
        except LedgerError:
            return None
        places = [(start, end) for edits in written.edits[-1:] for _, start, end in place_edits(edits)]
        return find_changed_line(after, now, places)

    def _left_content(self, thing: Touched, written: Touched) -> bytes:
        """What the change left there.

        Raises:
            LedgerError: no copy of it is kept, or of what it was made of.
        """
        if self._is_gone(thing):
            raise LedgerError(self.since.gone[thing.volume])
        return read_copy(self.grounds[thing.volume], self.record, written)

    def bring_back(self, thing: Touched) -> bool:
        """Make a removed thing again from its copy on the host; False while its place is not free."""
        home = self.since.home(thing)
        folder = self.since.place(home[0]) if home is not None else None
        if home is None or folder is None or self.since.overlay.child(*home) is not None:
            return False
        if folder.is_in_ledger:
            return False  # the folder that held it was taken away too, and comes home first
        target = folder.child(home[1])
        keep = self.record.kept_on[thing.volume]
        for copy in keep.of(thing.id):
            at = target.child(copy.path) if copy.path else target
            if copy.is_folder:
                self.since.do(MakeFolder(at))
            else:
                content = Prepared(keep.file(copy), copy.size, copy.sha256)
                self.since.do(Write(at, content, None, (), copy.mode))
        self.since.adopt(thing, target)
        self.since.notes.append(
            f"{shown(str(target))} comes back from {shown(keep.folder)}: bytes, names and modes, not times"
        )
        return True

    def _is_gone(self, thing: Touched) -> bool:
        """Whether the kept copies on its volume cannot be had."""
        return thing.volume in self.since.gone

    def _old_content(self, thing: Touched) -> bytes | Prepared:
        if thing.copy == "pack":
            return self._kept_bytes(thing)
        if thing.copy == "host":
            keep = self.record.kept_on[thing.volume]
            copy = keep.of(thing.id)[0]
            return Prepared(keep.file(copy), copy.size, copy.sha256)
        ground = self.grounds[thing.volume]
        file = ground.root / self.record.folder / "kept" / str(thing.id)
        kind, size, sha256 = thing.fingerprint.split(":")
        if kind != "file":
            sha256 = digest(file.read_bytes())
        return Prepared(str(file), int(size), sha256)

    def _kept_bytes(self, thing: Touched) -> bytes:
        return read_kept(self.grounds[thing.volume], self.record, thing)

    def _fingerprint(self, node: Node) -> str | None:
        if node.content is not None:
            content = read_content(node.content, None)
            return name_content(len(content), digest(content))
        assert node.origin is not None
        return take_fingerprint(self.grounds[node.volume], node.origin.path)

    def _read(self, node: Node) -> bytes:
        if node.content is not None:
            return read_content(node.content, None)
        assert node.origin is not None
        return self.since.tree.read(node.origin)


def _find_fault(name: str, raw: bytes) -> int | None:
    """The line where a manifest is malformed; None where it is well formed, or none."""
    from workbench.manifests.detection import detect_format
    from workbench.manifests.opening import open_document

    kind = detect_format(name, raw)
    if kind is None:
        return None
    try:
        open_document(raw, kind, name)
    except ManifestError as error:
        return error.line or 1
    return None
